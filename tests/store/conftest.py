from engines import engine, new_address, postgres_server, store_address

__all__ = ["engine", "new_address", "postgres_server", "store_address"]
