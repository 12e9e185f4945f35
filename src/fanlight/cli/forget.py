"""`fanlight forget`: throw away kept results."""

from __future__ import annotations

from fanlight.cli.screen import OUT


def forget() -> None:
    """Throw away the results kept on disk; nothing else is touched."""
    from fanlight.review.cache import DiskCache
    from fanlight.review.settings import cache_folder

    with DiskCache(cache_folder()) as cache:
        n = cache.purge()
    OUT.print(f"{n} results thrown away from {cache_folder()}", markup=False)
