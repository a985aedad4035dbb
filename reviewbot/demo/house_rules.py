"""The settings that the workshop of the demo keeps in its repository."""

SETTINGS_TOML = """\
# How Saltmarsh Bench wants its props reviewed.

[texture]
size = 2048    # the maps are 2048 x 2048 pixels
padding = 8    # pixels of free room that each shell keeps around itself
tiles = 1      # one set of maps a prop

[limits]
smallest = 0.10       # metres: our props are no smaller ...
largest = 0.60        # ... and no larger than this
bake_distance = 0.03  # of the part's size: how far the sculpt may lie from the low version

[names]
pattern = "[a-z][a-z0-9_]*_(low|high)"  # lower case, and low or high at the end
low_suffix = "_low"
high_suffix = "_high"

[placement]
origin = "bottom-centre"  # a prop stands with the middle of its foot on the origin
up = "y"

[parts]
hero = ["plate_*", "tank_*", "can_body_*"]  # what the camera looks at
hidden = ["underside_*"]  # nobody sees it once the lantern stands
# The glass is one sheet; the other bodies are open where the next one covers them.
open_sheets = ["globe_*", "base_*", "tank_*", "collar_*", "burner_*", "cap_*"]
subdivide = ["globe_high", "grip_high", "cage_bars_high"]  # the rest of a sculpt is final

[gate]
fail_on = "stop"

# The sculpt gets no textures of its own, so it needs no UVs.
[[rules]]
code = "uv-missing"
severity = "off"
parts = ["*_high"]
"""
