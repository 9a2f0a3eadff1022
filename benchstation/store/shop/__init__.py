"""The shop's database: the chains of all benches and the shop's own, in one PostgreSQL."""
