import math
import xml.etree.ElementTree as Tree

import pytest
from report.sample import HOSTILE_NAMES, lantern_report

from reviewbot.report.plots import distribution_plot, part_plots
from reviewbot.report.report import DistributionEntry

SVG = "{http://www.w3.org/2000/svg}"


def drawn(text: str) -> Tree.Element:
    return Tree.fromstring(text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" '))


def test_bars_are_as_tall_as_their_shares():
    plot = drawn(
        distribution_plot(
            DistributionEntry(name="stretch", edges=(0, 1, 2, 3), after=(0.5, 0.25, 0))
        )
    )
    heights = [float(bar.get("height")) for bar in plot.iter(f"{SVG}rect")]
    assert heights[0] > 0
    assert heights[1] == pytest.approx(heights[0] / 2, abs=0.1)
    assert heights[2] == 0


def test_the_plot_is_told_in_words():
    plot = drawn(distribution_plot(lantern_report().assets[0].distributions[0]))
    said = plot.find(f"{SVG}svg").get("aria-label")
    assert said.startswith("stretch, body. 1 to 1.1: before 62.0%, after 58.0%")


@pytest.mark.parametrize(
    "entry",
    [
        DistributionEntry(name="s", edges=()),
        DistributionEntry(name="s", edges=(1.0,), after=()),
        DistributionEntry(name="s", edges=(0, 1), after=None),
        DistributionEntry(name="s", edges=(0, math.inf), after=(1.0,)),
        DistributionEntry(name="s", edges=(0, None), after=(1.0,)),
        DistributionEntry(name="s", edges=(0, 1), after=(math.nan,)),
        DistributionEntry(name="s", edges=(0, 1), after=(0.5, 0.5)),
    ],
)
def test_nothing_is_drawn_where_a_figure_lacks(entry):
    assert distribution_plot(entry) == ""


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_hostile_names_stay_text(name):
    entry = DistributionEntry(name=name, part=name, unit=name, edges=(0, 1, 2), after=(0.5, 0.5))
    plot = drawn(distribution_plot(entry))
    assert {node.tag.removeprefix(SVG) for node in plot.iter()} <= {
        "figure", "figcaption", "svg", "path", "rect", "text"
    }  # fmt: skip


def test_parts_are_compared_where_they_differ():
    plots = [drawn(plot) for plot in part_plots(lantern_report().assets[0])]
    titles = [plot.find("figcaption").text for plot in plots]
    assert titles == ["density by part", "seam length by part"]
    assert len(list(plots[1].iter(f"{SVG}circle"))) == 12
    names = [text.text for text in plots[1].iter(f"{SVG}text")]
    assert names[0] == "handle"  # what moved most leads


def test_one_part_needs_no_comparison():
    asset = lantern_report().assets[0]
    assert part_plots(asset.model_copy(update={"parts": asset.parts[:1]})) == []
