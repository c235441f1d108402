"""Accounts: who may do what, and how a password is held."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, Protocol

from soakage.errors import UsageError

if TYPE_CHECKING:
    import argon2

SHORTEST, LONGEST = 12, 256


class Role(StrEnum):
    """What a person may do; each may do what those before it may."""

    READ = "read"
    TEST = "test"
    REVIEW = "review"
    ADMINISTER = "administer"

    def may(self, needed: Role) -> bool:
        """Return whether it reaches the role that something needs."""
        order = list(Role)
        return order.index(self) >= order.index(needed)


@dataclass(frozen=True, slots=True)
class Account:
    """One person's account."""

    name: str
    hash: str
    role: Role


class Accounts(Protocol):
    """Where accounts are kept."""

    def get(self, name: str) -> Account | None:
        """Return the account of a name."""

    def keep(self, account: Account) -> None:
        """Keep an account, new or changed."""

    def any(self) -> bool:
        """Return whether there is one."""

    def forget(self) -> None:
        """Look again: somebody else changed them."""


class MemoryAccounts:
    """Accounts that end with the process."""

    def __init__(self, *accounts: Account) -> None:
        self._kept = {account.name: account for account in accounts}

    def get(self, name: str) -> Account | None:
        """Return the account of a name."""
        return self._kept.get(name)

    def keep(self, account: Account) -> None:
        """Keep an account, new or changed."""
        self._kept[account.name] = account

    def any(self) -> bool:
        """Return whether there is one."""
        return bool(self._kept)

    def forget(self) -> None:
        """Do nothing: nobody else changes them."""


def account(name: str, password: str, role: Role) -> Account:
    """Return a new account, its password hashed.

    Raises
    ------
    UsageError
        If the name is empty or the password too short or too long.
    """
    if not name.strip():
        raise UsageError("An account needs a name. Given: nothing. Give the person's name.")
    if not SHORTEST <= len(password) <= LONGEST:
        raise UsageError(
            f"This password cannot be used. Given: {len(password)} characters. "
            f"Allowed: {SHORTEST} to {LONGEST}. A sentence is easy to remember."
        )
    return Account(name.strip(), _hasher().hash(password), role)


def checked(accounts: Accounts, name: str, password: str) -> Account | None:
    """Return the account when the password is its own; takes as long for a name that is not there.

    Parameters
    ----------
    accounts : Accounts
        Where to look.
    name, password : str
        As typed.
    """
    import argon2

    found = accounts.get(name.strip())
    if len(password) > LONGEST:
        return None
    try:
        _hasher().verify(found.hash if found else _nobodys(), password)
    except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
        return None
    if found is not None and _hasher().check_needs_rehash(found.hash):
        found = replace(found, hash=_hasher().hash(password))
        accounts.keep(found)
    return found


@cache
def _hasher() -> argon2.PasswordHasher:
    import argon2

    return argon2.PasswordHasher()


@cache
def _nobodys() -> str:
    return _hasher().hash("nobody has this one")
