from engines import engine, new_address, postgres_server, store_address
from keeping import stores_closed

__all__ = ["engine", "new_address", "postgres_server", "store_address", "stores_closed"]
