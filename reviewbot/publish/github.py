"""Reviews on GitHub, by its REST interface; GitHub Enterprise by another base address.

Source: https://docs.github.com/rest (version 2022-11-28).
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from urllib.parse import quote

import httpx

from reviewbot.publish.api import Api, Json
from reviewbot.publish.clock import Clock
from reviewbot.publish.hosts import ChangeRequest
from reviewbot.publish.tracker import Tracker, at

API = "https://api.github.com"
WEB = "https://github.com"
ACTIONS_ACCOUNT = "github-actions[bot]"  # a job's own token may not ask whose it is
_NONE = frozenset({404, 422})  # how a reference that is not there is answered


class GitHub(Tracker):
    """A `Host`.

    token    sent in a header and nowhere else
    account  this tool's own login; None asks, and takes the job's own account where a job's token
             may not ask
    """

    def __init__(
        self,
        *,
        token: str,
        clock: Clock,
        api: str = API,
        web: str = WEB,
        account: str | None = None,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        headers = {
            "accept": "application/vnd.github+json",
            "authorization": f"Bearer {token}",
            "user-agent": "reviewbot",
            "x-github-api-version": "2022-11-28",
        }
        calls = Api(api, headers=headers, clock=clock, transport=transport)
        super().__init__(calls, account=account, where_not_asked=ACTIONS_ACCOUNT)
        self._web = web.rstrip("/")

    def put_pictures(self, request: ChangeRequest, pictures: Mapping[str, bytes]) -> dict[str, str]:
        """See `Host`. One commit without parents at a reference of the request's own."""
        git = f"{at(request.repository)}/git"
        entries = [
            {"path": name, "mode": "100644", "type": "blob", "sha": self._blob(git, data)}
            for name, data in sorted(pictures.items())
        ]
        tree = self._made(f"{git}/trees", {"tree": entries})
        commit = {"message": "Pictures of a review", "tree": tree, "parents": []}
        commit_id = self._made(f"{git}/commits", commit)
        self._point(git, _reference(request), commit_id)
        where = f"{self._web}/{request.repository}/blob/{commit_id}"
        return {name: f"{where}/{quote(name)}?raw=true" for name in pictures}

    def remove_pictures(self, request: ChangeRequest) -> None:
        """See `Host`."""
        path = f"{at(request.repository)}/git/refs/{_reference(request)}"
        self._api.call("DELETE", path, allow=_NONE)

    def _blob(self, git: str, data: bytes) -> str:
        content = base64.b64encode(data).decode("ascii")
        return self._made(f"{git}/blobs", {"content": content, "encoding": "base64"})

    def _made(self, path: str, body: Json) -> str:
        """The id of a git object; making it twice makes the same one."""
        return str(self._api.call("POST", path, json=body).body["sha"])

    def _point(self, git: str, reference: str, commit_id: str) -> None:
        """Makes a reference point at a commit, wherever it pointed before."""
        body = {"sha": commit_id, "force": True}
        moved = self._api.call("PATCH", f"{git}/refs/{reference}", json=body, allow=_NONE)
        if moved.status >= 300:
            new = {"ref": f"refs/{reference}", "sha": commit_id}
            self._api.call("POST", f"{git}/refs", json=new)


def _reference(request: ChangeRequest) -> str:
    return f"reviewbot/pull/{int(request.number)}"
