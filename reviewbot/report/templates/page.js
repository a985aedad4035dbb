"use strict";
(() => {
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const make = (tag, fields = {}, ...children) => {
    const node = Object.assign(document.createElement(tag), fields);
    node.append(...children);
    return node;
  };
  const clamp = (value, low, high) => Math.min(high, Math.max(low, value));
  const size = (picture, side) => Number(picture.getAttribute(side));
  // How wide a picture may be so that it does not stand taller than the window.
  const fitting = (ratio, widest) => `min(100%, ${widest}, calc(78vh * ${ratio}))`;
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  let serial = 0;

  const button = (text, act) => {
    const node = make("button", { type: "button", textContent: text });
    node.addEventListener("click", act);
    return node;
  };
  const slider = (label, max, value, act) => {
    const input = make("input", { type: "range", min: 0, max, value, step: 1 });
    input.addEventListener("input", () => act(Number(input.value)));
    return [make("label", {}, label, input), input];
  };
  const choice = (label, options, act) => {
    const id = `choice-${++serial}`;
    const select = make("select", { id }, ...options.map((text, at) => new Option(text, at)));
    select.addEventListener("change", () => act(Number(select.value)));
    return make("span", { className: "choice" }, make("label", { htmlFor: id, textContent: label }), select);
  };
  const modes = (label, names, act) => {
    const buttons = names.map((name) => button(name, () => set(name)));
    const set = (name) => {
      buttons.forEach((node) => node.setAttribute("aria-pressed", node.textContent === name));
      act(name);
    };
    return [make("fieldset", {}, make("legend", { textContent: label }), ...buttons), set];
  };

  // Light and dark.
  const root = document.documentElement;
  const isDark = () =>
    root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  const theme = button("", () => {
    root.dataset.theme = isDark() ? "light" : "dark";
    name();
  });
  const name = () => (theme.textContent = isDark() ? "Light" : "Dark");
  name();
  document.getElementById("tools").append(theme);

  // Before over after: slide, blink, difference. The blink shows each version for a whole second.
  const BLINK = 1000;
  const compare = (sides) => {
    const [before, after, difference] = ["before", "after", "difference"].map((side) =>
      sides.querySelector(`.pane-${side}`));
    if (!before || !after || !before.querySelector("img") || !after.querySelector("img")) return;
    const line = make("div", { className: "line" });
    const tags = ["before", "after"].map((side) =>
      make("span", { className: `tag tag-${side}`, textContent: side }));
    const stage = make("div", { className: "stage" });
    let timer = 0;
    let shown = "after";
    let mode = "";
    const show = (side) => {
      shown = side;
      after.style.visibility = side === "after" ? "visible" : "hidden";
      tags.forEach((tag) => (tag.hidden = tag.textContent !== side));
    };
    const cut = (share) => {
      after.style.clipPath = `inset(0 0 0 ${share}%)`;
      line.style.left = `calc(${share}% - 1px)`;
      range.setAttribute("aria-valuetext", `${share}% before, ${100 - share}% after`);
    };
    const [rangeLabel, range] = slider("Edge", 100, 50, cut);
    const step = () => show(shown === "after" ? "before" : "after");
    const pause = button("", () => (timer || still.matches ? stop() || (still.matches && step()) : start()));
    const start = () => {
      timer = setInterval(step, BLINK);
      pause.textContent = "Pause";
    };
    const stop = () => {
      clearInterval(timer);
      timer = 0;
      pause.textContent = still.matches ? "Swap" : "Go on";
    };
    const set = (next) => {
      mode = next;
      stop();
      const apart = mode === "Side by side";
      (apart ? [before, after, difference] : [before, after]).forEach((pane) =>
        pane && (apart ? sides : stage).append(pane));
      if (difference) (mode === "Difference" ? stage : sides).append(difference), (difference.hidden = !apart && mode !== "Difference");
      stage.hidden = apart;
      after.style.clipPath = "";
      after.style.visibility = "visible";
      rangeLabel.hidden = line.hidden = mode !== "Slide";
      pause.hidden = mode !== "Blink";
      tags.forEach((tag) => (tag.hidden = mode === "Difference"));
      if (mode === "Slide") cut(Number(range.value));
      if (mode === "Blink") show("after"), still.matches || start();
    };
    const names = ["Slide", "Blink", ...(difference && difference.querySelector("img") ? ["Difference"] : []), "Side by side"];
    const [fieldset, choose] = modes("Show", names, set);
    stage.append(line, ...tags);
    const shape = before.querySelector("img");
    stage.style.maxWidth = fitting(size(shape, "width") / size(shape, "height"), `${1.6 * size(shape, "width")}px`);
    sides.before(make("div", { className: "controls" }, fieldset, rangeLabel, pause));
    sides.prepend(stage);
    const drag = (event) => {
      if (mode !== "Slide" || !(event.buttons & 1)) return;
      const box = stage.getBoundingClientRect();
      range.value = clamp(Math.round((100 * (event.clientX - box.left)) / box.width), 0, 100);
      cut(Number(range.value));
    };
    stage.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      stage.setPointerCapture(event.pointerId);
      drag(event);
    });
    stage.addEventListener("pointermove", drag);
    choose("Slide");
    let printed = "";
    addEventListener("beforeprint", () => ((printed = mode), choose("Side by side")));
    addEventListener("afterprint", () => choose(printed));
  };
  all(".compare").forEach((viewer) => {
    const views = all(".sides", viewer).map((sides) => {
      const block = make("div");
      sides.replaceWith(block);
      block.append(sides);
      compare(sides);
      return block;
    });
    if (views.length < 2) return;
    const only = (at) => views.forEach((block, place) => (block.hidden = place !== at));
    const titles = views.map((block) => block.querySelector(".sides").dataset.view);
    const label = choice("View", titles, only);
    viewer.prepend(make("div", { className: "controls" }, label));
    only(0);
  });

  // Turntable: one sprite, a row a version, turned by slider, arrow keys or dragging.
  all(".turn").forEach((figure) => {
    const strip = figure.querySelector(".turn-strip");
    const sprite = strip.querySelector("img");
    if (!sprite) return;
    const columns = Number(figure.dataset.columns);
    const rows = Number(figure.dataset.rows);
    const ratio = size(sprite, "width") / columns / (size(sprite, "height") / rows);
    const windows = Array.from({ length: rows }, (_, row) => {
      const picture = row ? sprite.cloneNode() : sprite;
      picture.style.width = `${columns * 100}%`;
      const tag = rows === 2 ? [make("span", { className: "tag tag-before", textContent: row ? "after" : "before" })] : [];
      const pane = make("div", { className: "turn-window" }, picture, ...tag);
      pane.style.aspectRatio = ratio;
      return [picture, row, pane];
    });
    const turn = (at) => {
      windows.forEach(([picture, row]) =>
        (picture.style.transform = `translate(${(-100 * at) / columns}%, ${(-100 * row) / rows}%)`));
      range.setAttribute("aria-valuetext", `view ${at + 1} of ${columns}, ${Math.round((360 * at) / columns)} degrees`);
    };
    const [label, range] = slider("Turn", columns - 1, 0, turn);
    const panes = make("div", { className: "turn-windows" }, ...windows.map(([, , pane]) => pane));
    panes.style.maxWidth = fitting(ratio * rows, "46rem");
    let start = 0;
    let from = 0;
    panes.addEventListener("pointerdown", (event) => {
      panes.setPointerCapture(event.pointerId);
      [start, from] = [event.clientX, Number(range.value)];
    });
    panes.addEventListener("pointermove", (event) => {
      if (!(event.buttons & 1)) return;
      const moved = Math.round(((event.clientX - start) / panes.clientWidth) * columns * rows);
      range.value = (((from + moved) % columns) + columns) % columns;
      turn(Number(range.value));
    });
    strip.replaceWith(panes, make("div", { className: "controls" }, label));
    turn(0);
  });

  // UV sheets: both versions zoom and move together.
  all(".sheets").forEach((group) => {
    const windows = all(".sheet-window", group).filter((pane) => pane.querySelector("img"));
    if (!windows.length) return;
    let [scale, x, y] = [1, 0, 0]; // x, y: the upper left corner, as shares of the sheet
    const level = make("output", { textContent: "100%" });
    const draw = () => {
      [x, y] = [clamp(x, 0, 1 - 1 / scale), clamp(y, 0, 1 - 1 / scale)];
      windows.forEach((pane) =>
        (pane.querySelector("img").style.transform = `scale(${scale}) translate(${-100 * x}%, ${-100 * y}%)`));
      level.textContent = `${Math.round(100 * scale)}%`;
    };
    const zoom = (factor, u = 0.5, v = 0.5) => {
      const next = clamp(scale * factor, 1, 16);
      [x, y] = [x + u / scale - u / next, y + v / scale - v / next];
      scale = next;
      draw();
    };
    const move = (right, down) => {
      [x, y] = [x + right / scale, y + down / scale];
      draw();
    };
    const keys = {
      "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), 0: () => zoom(1 / 16),
      ArrowLeft: () => move(-0.1, 0), ArrowRight: () => move(0.1, 0),
      ArrowUp: () => move(0, -0.1), ArrowDown: () => move(0, 0.1),
    };
    windows.forEach((pane) => {
      pane.classList.add("zooms");
      pane.tabIndex = 0;
      pane.setAttribute("role", "group");
      pane.setAttribute("aria-label", "UV sheet: plus and minus zoom, arrows move, 0 shows all");
      const share = (event) => {
        const box = pane.getBoundingClientRect();
        return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
      };
      pane.addEventListener("keydown", (event) => {
        if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
        event.preventDefault();
        keys[event.key]();
      });
      // The page must still scroll past: the wheel zooms once the sheet was clicked, or with Ctrl.
      pane.addEventListener("wheel", (event) => {
        if (document.activeElement !== pane && !event.ctrlKey) return;
        event.preventDefault();
        zoom(event.deltaY < 0 ? 1.25 : 0.8, ...share(event));
      }, { passive: false });
      const touches = new Map();
      pane.addEventListener("pointerdown", (event) => {
        pane.setPointerCapture(event.pointerId);
        touches.set(event.pointerId, share(event));
      });
      pane.addEventListener("pointermove", (event) => {
        const was = touches.get(event.pointerId);
        if (!was) return;
        const now = share(event);
        if (touches.size === 1) move(was[0] - now[0], was[1] - now[1]);
        else {
          const other = [...touches].find(([id]) => id !== event.pointerId)[1];
          const apart = (at) => Math.hypot(at[0] - other[0], at[1] - other[1]) || 1e-6;
          zoom(apart(now) / apart(was), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
        }
        touches.set(event.pointerId, now);
      });
      ["pointerup", "pointercancel"].forEach((kind) =>
        pane.addEventListener(kind, (event) => touches.delete(event.pointerId)));
    });
    group.prepend(make("div", { className: "controls" },
      button("Closer", keys["+"]), button("Farther", keys["-"]), button("Whole sheet", keys[0]), level));
    draw();
  });

  // Measures: what is as it was steps back until it is asked for.
  all("table.sortable").forEach((table) => {
    const changed = all("tr.changed", table).length;
    if (!changed || changed === table.tBodies[0].rows.length) return;
    const box = make("input", { type: "checkbox", checked: true });
    const apply = () => table.classList.toggle("only-changed", box.checked);
    box.addEventListener("change", apply);
    table.parentNode.before(make("div", { className: "controls" }, make("label", {}, box, "only what changed")));
    apply();
  });

  // Tables: a press on a heading sorts, a second one turns the order round.
  all("table.sortable").forEach((table) => {
    const heads = all("thead th", table);
    heads.forEach((head, column) => {
      const sort = () => {
        const order = head.getAttribute("aria-sort") === "ascending" ? "descending" : "ascending";
        heads.forEach((other) => other.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", order);
        const sign = order === "ascending" ? 1 : -1;
        const value = (row) => {
          const cell = row.cells[column];
          return cell.dataset.value === undefined ? cell.textContent : Number(cell.dataset.value);
        };
        const isNumber = (key) => typeof key === "number";
        const rows = all("tbody tr", table).map((row) => [value(row), row]);
        rows.sort(([a], [b]) => {
          if (isNumber(a) !== isNumber(b)) return isNumber(a) ? -1 : 1;
          return sign * (isNumber(a) ? a - b : a.localeCompare(b));
        });
        table.tBodies[0].append(...rows.map(([, row]) => row));
      };
      head.replaceChildren(button(head.textContent, sort));
    });
  });

  // Filters: by severity and part.
  const findings = all(".finding");
  const filters = document.getElementById("filters");
  if (findings.length > 1) {
    const count = make("output");
    const hidden = new Set();
    let part = "";
    const sum = (nodes, counts) => nodes.reduce((total, node) => {
      const members = all(".members li", node).filter(counts).length;
      return total + (members || Number(node.dataset.count));
    }, 0);
    const apply = () => {
      const fits = (node) => !part || (node.dataset.part || "").split(" ").includes(part);
      findings.forEach((node) => (node.hidden = hidden.has(node.dataset.severity) || !fits(node)));
      all(".changes li, .members li, table.sortable tr[data-part]").forEach((node) => (node.hidden = !fits(node)));
      const left = sum(findings.filter((node) => !node.hidden), fits);
      count.textContent = `${left} of ${sum(findings, () => true)} findings`;
    };
    const boxes = ["stop", "look", "note"].map((severity) => {
      const box = make("input", { type: "checkbox", checked: true });
      box.addEventListener("change", () => {
        hidden[box.checked ? "delete" : "add"](severity);
        apply();
      });
      return make("label", {}, box, severity);
    });
    const names = JSON.parse(document.getElementById("part-names").textContent);
    const label = choice("Part", ["all", ...names], (at) => {
      part = at ? String(at) : "";
      apply();
    });
    filters.append(make("div", { className: "controls" },
      make("fieldset", {}, make("legend", { textContent: "Findings" }), ...boxes), label, count));
    apply();
  }

  // What is folded away is printed too.
  addEventListener("beforeprint", () => all("details").forEach((node) => (node.open = true)));
})();
