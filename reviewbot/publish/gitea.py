"""Reviews on Gitea and Forgejo, by the REST interface they share, version 1.

Source: the description that each site shows at ``/api/swagger``.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePosixPath

import httpx

from reviewbot.publish.api import Api
from reviewbot.publish.clock import Clock
from reviewbot.publish.hosts import ChangeRequest
from reviewbot.publish.tracker import Tracker, at

_PREFIX = "reviewbot-"  # how our own attachments begin
_GONE = frozenset({404})


class Gitea(Tracker):
    """A `Host`.

    token  sent in a header and nowhere else
    web    the address of the site; the interface lies below it
    """

    def __init__(
        self,
        *,
        token: str,
        clock: Clock,
        web: str,
        account: str | None = None,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        headers = {"authorization": f"token {token}", "user-agent": "reviewbot"}
        base = f"{web.rstrip('/')}/api/v1"
        calls = Api(base, headers=headers, clock=clock, transport=transport)
        super().__init__(calls, account=account, where_not_asked=None)

    def put_pictures(self, request: ChangeRequest, pictures: Mapping[str, bytes]) -> dict[str, str]:
        """See `Host`. Attachments of the request."""
        self.remove_pictures(request)
        path = _attachments(request)
        found = {}
        for number, (name, data) in enumerate(pictures.items()):
            file = (f"{_PREFIX}{number:03}-{PurePosixPath(name).name}", data)
            made = self._api.upload(path, "attachment", file)
            found[name] = str(made["browser_download_url"])
        return found

    def remove_pictures(self, request: ChangeRequest) -> None:
        """See `Host`."""
        path = _attachments(request)
        for attachment in list(self._api.pages(path)):
            if attachment["name"].startswith(_PREFIX):
                self._api.call("DELETE", f"{path}/{int(attachment['id'])}", allow=_GONE)


def _attachments(request: ChangeRequest) -> str:
    return f"{at(request.repository)}/issues/{int(request.number)}/assets"
