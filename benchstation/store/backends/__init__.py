"""What is one database's own: how it is reached, and what its errors mean."""
