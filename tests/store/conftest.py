from engines import (
    engine,
    made_address,
    new_address,
    new_made,
    postgres_server,
    spare_databases,
    store_address,
)
from keeping import stores_closed

__all__ = [
    "engine",
    "made_address",
    "new_address",
    "new_made",
    "postgres_server",
    "spare_databases",
    "store_address",
    "stores_closed",
]
