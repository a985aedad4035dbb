from report.sample import finding, lantern_report, quiet_report

from reviewbot.report.order import by_standing, needs_telling, severity_counts, worst_first


def test_each_finding_is_in_one_group_the_gravest_first():
    asset = lantern_report().assets[0]
    groups = by_standing(asset.findings)
    assert [f.code for f in groups.leading] == [
        "uv-missing",
        "silhouette-change",
        "ngon",
        "uneven-quads",
        "uneven-quads",
    ]
    assert {f.standing for f in groups.stood} == {"same", "better"}
    assert [f.code for f in groups.fixed] == ["loose-vertex"]
    assert [f.code for f in groups.accepted] == ["uv-overlap"]
    everything = groups.leading + groups.stood + groups.fixed + groups.accepted
    assert len(everything) == len(asset.findings)


def test_what_is_accepted_does_not_lead_and_what_is_fixed_is_fixed():
    accepted = finding("ngon", "stop", "new", "n", accepted="yes")
    fixed = finding("ngon", "stop", "fixed", "n", accepted="yes")
    groups = by_standing([accepted, fixed])
    assert (groups.leading, groups.accepted, groups.fixed) == ((), (accepted,), (fixed,))


def test_the_worst_asset_leads():
    paths = [asset.path for asset in worst_first(lantern_report().assets)]
    assert paths[0].endswith("lantern_low.obj")
    assert paths[-1].endswith("crate_03.obj")


def test_only_what_happened_needs_telling():
    assert not any(map(needs_telling, quiet_report().assets))
    quiet = quiet_report().assets[0]
    assert needs_telling(quiet.model_copy(update={"verdict": "look"}))
    assert needs_telling(quiet.model_copy(update={"state": "added"}))
    told = (finding("ngon", "note", "new", "n"),)
    assert needs_telling(quiet.model_copy(update={"findings": told}))
    stood = (finding("ngon", "note", "same", "n"),)
    assert not needs_telling(quiet.model_copy(update={"findings": stood}))


def test_counts_in_words():
    grave = finding("a", "stop", "new", "m")
    said = finding("b", "note", "new", "m")
    assert severity_counts([grave, said, said]) == "1 stop, 2 notes"
    assert severity_counts([said]) == "1 note"
    assert severity_counts([]) == ""
