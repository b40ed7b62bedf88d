"""How fast the board writes and tells, beside the database's own limit and the tutorial way; benchmarks, not tests.

`.venv/bin/python -m tests.bench` needs PostgreSQL (with pgbench) and Redis; DATABASE_URL and REDIS_URL say where.
"""
