"""A dry run says everything and sends nothing."""

from report.sample import lantern_report, picture_bytes

from reviewbot.publish.dry_run import DryRun
from reviewbot.publish.hosts import ChangeRequest
from reviewbot.publish.posting import MARKER, post_review, shown_pictures

REQUEST = ChangeRequest(repository="studio/props", number=2, head_commit="a" * 40)


def test_says_what_would_be_sent() -> None:
    said: list[str] = []
    report = lantern_report()
    post_review(DryRun(said.append), REQUEST, report, picture_bytes(report), is_passed=False)
    pictures = [line for line in said if line.startswith("picture for studio/props, request 2: ")]
    assert len(pictures) == len(shown_pictures(report))
    (body,) = [line for line in said if line.startswith(MARKER)]
    (heading,) = [line for line in said if line.startswith("comment on")]
    assert heading == f"comment on studio/props, request 2, {len(body):,} characters:"
    assert said[-1] == f"status of {'a' * 40} in studio/props: failed, {report.summary}"


def test_says_the_rest_as_well() -> None:
    said: list[str] = []
    dry = DryRun(said.append)
    assert dry.find_request("a/b", head_commit="c" * 40, head_repository="d/b") is None
    dry.remove_pictures(REQUEST)
    dry.open_issue("a/b", title="This week", body="all is well", marker=MARKER)
    dry.close()
    assert said[0] == f"look in a/b for the request of {'c' * 40} from d/b"
    assert said[1] == "drop the pictures of studio/props, request 2"
    assert said[2:] == ["issue in a/b: This week", f"{MARKER}\nall is well"]
