"""The register by hand: assets, their sections and sites added and edited; what was before stays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from soakage.app.edited import TEXT, Edited, changes_of, clean_values, fresh_values, word
from soakage.app.ports import Change, KnownAsset, Memory
from soakage.app.register import (
    IDENTITY,
    NAMEPLATE,
    SECTION,
    ambiguous,
    asset_id,
    fitting,
    identity,
    title_of,
)
from soakage.app.revising import field_changes
from soakage.errors import UsageError

NAMES = ("asset", "tag", "serial")


def add_asset(memory: Memory, values: Mapping[str, Any]) -> Edited:
    """Add an asset.

    Parameters
    ----------
    memory : Memory
        The register.
    values : mapping
        Plain value by key: name, tag or serial number, site, nameplate.

    Raises
    ------
    UsageError
        If nothing names it, a key is none of an asset's, or it is there already.
    """
    wanted = clean_values(values, (*IDENTITY, *NAMEPLATE), "an asset")
    names = _named(wanted)
    if not any(key in names for key in NAMES):
        raise UsageError("An asset needs a name, a tag or a serial number.")
    _refuse_twins(memory, names, None)
    subject = asset_id(names)
    there = memory.assets([subject]).get(subject)
    if there is not None:
        raise UsageError(
            f"An asset first registered as {title_of(names)} is called {title_of(there.values)} now (id {subject}). "
            "Give the new one a tag or a serial number too, so that records tell the two apart."
        )
    with memory.changing() as change:
        entry = change.state("asset", subject, wanted)
        _site(change, names.get("site"))
    return Edited("asset", subject, title_of(wanted), added=True, changed=changes_of(entry))


def edit_asset(
    memory: Memory,
    asset: KnownAsset,
    values: Mapping[str, Any],
    clear: Iterable[str] = (),
    reason: str = "",
) -> Edited:
    """Change name, place or nameplate of an asset; its id and its tests stay.

    Parameters
    ----------
    memory : Memory
        The register.
    asset : KnownAsset
        As it stands.
    values : mapping
        Plain value by key.
    clear : iterable of str
        Keys whose value is taken away.
    reason : str
        Why.

    Returns
    -------
    Edited
        With the tests whose verdict was given with a value that is another one now; they are not judged again.

    Raises
    ------
    UsageError
        If a key is none of an asset's, nothing would name it any more, or another one is called so.
    """
    fresh = fresh_values(values, clear, (*IDENTITY, *NAMEPLATE), "an asset")
    after = dict(asset.values) | fresh
    if not any(after.get(key) for key in NAMES):
        raise UsageError("An asset needs a name, a tag or a serial number; this would leave it none.")
    if set(fresh) & set(IDENTITY):
        _refuse_twins(memory, _named(after), asset.id)
    with memory.changing() as change:
        entry = change.state("asset", asset.id, fresh, reason=reason)
        _site(change, fresh.get("site"))
    changed = changes_of(entry)
    told = {one.field for one in changed} & set(NAMEPLATE)
    judged = _judged_with(memory, asset, told)
    return Edited("asset", asset.id, title_of(after), added=False, changed=changed, judged_before=judged)


def _judged_with(memory: Memory, asset: KnownAsset, keys: Iterable[str]) -> tuple[str, ...]:
    """Return the judged tests whose records are silent about one of these keys: the register spoke for them."""
    wanted = set(keys)
    if not wanted:
        return ()
    return tuple(
        test.id for test in memory.history(asset.id) if test.result is not None and wanted - set(test.stated)
    )


def retire(memory: Memory, asset: KnownAsset, *, back: bool = False, reason: str = "") -> Edited:
    """Mark an asset as retired, so that no test of it falls due, or take that back; its history stays."""
    with memory.changing() as change:
        entry = change.state("asset", asset.id, {"retired": None if back else True}, reason=reason)
    return Edited("asset", asset.id, title_of(asset.values), added=False, changed=changes_of(entry))


def edit_section(
    memory: Memory, asset: KnownAsset, name: str, *, text: str | None = None, add: bool, remove: bool = False
) -> Edited:
    """Add a section to an asset, change what is written beside it, or take away one that no test is of.

    Parameters
    ----------
    memory : Memory
        The register.
    asset : KnownAsset
        Whose.
    name : str
        Of the section.
    text : str, optional
        What is written beside it.
    add : bool
        Whether it has to be new; it has to be there otherwise.
    remove : bool
        Take it away.

    Raises
    ------
    UsageError
        If it is there already, or is not there, or has tests.
    """
    wanted = word(name, "A section")
    key = f"{SECTION}{wanted}"
    there = asset.values.get(key)
    title = f"{title_of(asset.values)}, {wanted}"
    if add and there is not None:
        raise UsageError(f"{title}: this section is there already.")
    if not add and there is None:
        known = ", ".join(
            sorted(field.removeprefix(SECTION) for field in asset.values if field.startswith(SECTION))
        )
        raise UsageError(f"{title}: no such section. There are: {known or 'none'}.")
    if remove and any(test.section == wanted for test in memory.tests(assets=[asset.id])):
        raise UsageError(f"{title}: tests are of this section. Revise them first: 'soakage amend --section'.")
    value = None if remove else dict(there or {}) | ({TEXT: text.strip()} if text else {})
    with memory.changing() as change:
        entry = change.state("asset", asset.id, {key: value})
    return Edited("section", asset.id, title, added=add, changed=changes_of(entry))


def edit_site(
    memory: Memory,
    name: str,
    *,
    add: bool,
    to: str | None = None,
    text: str | None = None,
    assets: Iterable[str] = (),
) -> Edited:
    """Add a site, change what is written beside it, or rename it with all its assets.

    Parameters
    ----------
    memory : Memory
        The register.
    name : str
        As it is called.
    add : bool
        Whether it has to be new; it has to be there otherwise.
    to : str, optional
        New name.
    text : str, optional
        What is written beside it.
    assets : iterable of str
        Ids of the assets there; they move to the new name.

    Raises
    ------
    UsageError
        If it is there already, or is not there, or another site has the new name.
    """
    old = word(name, "A site")
    new = word(to, "A site") if to is not None else old
    subject = identity("site", new)
    with memory.changing() as change:
        before = dict(change.folded("site", identity("site", old)).values)
        if add and before.get("name"):
            raise UsageError(f"The site {old} is there already. Change it with 'soakage register edit site'.")
        if not add and not before.get("name"):
            raise UsageError(
                f"No site is called {old!r}; its name is matched whole. Look it up with 'soakage list'."
            )
        after = before | {"name": new} | ({TEXT: text.strip()} if text else {})
        if new != old:
            if change.folded("site", subject).values.get("name"):
                raise UsageError(f"Another site is called {new} already. Give its assets to it one by one.")
            # records name a site by its name, so the name is its id: the old one ends, the new one begins
            change.state("site", identity("site", old), {"name": None, "renamed": new})
            after.pop("renamed", None)
            for asset in assets:
                change.state("asset", asset, {"site": new}, reason=f"The site {old} is called {new} now.")
        change.state("site", subject, after)
    changed = field_changes(before, after)
    return Edited("site", subject, new, added=add, changed=changed)


def _named(values: Mapping[str, Any]) -> dict[str, str]:
    return {key: str(values[key]) for key in IDENTITY if values.get(key)}


def _refuse_twins(memory: Memory, names: Mapping[str, str], own: str | None) -> None:
    like = memory.assets_like(*([names[key]] if key in names else [] for key in NAMES))
    twins = [asset for asset in fitting(names, like) if asset.id != own]
    if twins:
        raise UsageError(
            f"The register has this asset already: {ambiguous(twins)}. Tell the two apart by site, tag or serial "
            "number, or edit the one that is there."
        )


def _site(change: Change, name: str | None) -> None:
    if name:
        change.state("site", identity("site", name), {"name": name})
