"""The numbered forms of the shop's tables, run by Alembic."""
