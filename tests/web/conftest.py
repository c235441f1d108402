from kept_rig import kept, scenario
from web_rig import (
    browser_type_launch_args,
    client,
    live,
    shots,
    store_elsewhere,
    visit,
    web_cache,
    web_settings,
)

__all__ = [
    "browser_type_launch_args",
    "client",
    "kept",
    "live",
    "scenario",
    "shots",
    "store_elsewhere",
    "visit",
    "web_cache",
    "web_settings",
]
