"""What runs the processes of production asks for PostgreSQL and Redis: it is collected where these are named."""

import os

if not os.environ.get("DATABASE_URL", "").startswith("postgres"):
    collect_ignore = ["test_production.py", "test_production_attacks.py", "test_shift.py"]
