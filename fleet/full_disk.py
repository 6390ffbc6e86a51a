"""Whether an error says that there is no room left, whoever met it: the file system or either database."""

import errno
from collections.abc import Iterator

from django.db import Error as DatabaseFault

NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
POSTGRESQL_DISK_FULL = "53100"
SQLITE_SAYS = "database or disk is full"


def is_full(error: BaseException | None) -> bool:
    """Whether ``error``, or what it came from, is a full disk."""
    return any(_says_full(each) for each in _chain(error))


def _chain(error: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def _says_full(error: BaseException) -> bool:
    if isinstance(error, OSError):
        return error.errno in NO_ROOM
    if isinstance(error, DatabaseFault) and SQLITE_SAYS in str(error):
        return True
    return getattr(error, "sqlstate", None) == POSTGRESQL_DISK_FULL
