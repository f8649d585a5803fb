"""A part as a supplier writes it, the host that takes it twice, and how both become files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

Sections = dict[str, dict[str, Any]]

PARTS = ("camera one", "camera two")


def instrument(before: str = "") -> Sections:
    """A part of 20 nodes in all its variety, its names with something before them.

    Two nodes are massless, four are a whole table. It radiates to `space`, which is no name of
    its own where the host has one, and gives heat in modes, which are always the host's.
    """

    def n(name: object) -> str:
        return f"{before}{name}"

    box = [n(f"box {k}") for k in range(14)]
    nodes: dict[str, Any] = {
        name: {"capacity": f"{100 + 7.3 * k} J/K", "initial": "21 degC"}
        for k, name in enumerate(box)
    }
    nodes[n("face")] = {"massless": True}
    nodes[n("baffle")] = {"massless": True}
    nodes[n("deck")] = {"table": "capacity\n11.1\n12.2\n13.3\n14.4\n", "initial": "20 degC"}
    links: dict[str, Any] = {
        n(f"wall {k}"): {"from": a, "to": b, "conductance": f"{0.3 + 0.017 * k} W/K"}
        for k, (a, b) in enumerate(zip(box[:-1], box[1:], strict=True))
    }
    links[n("foot")] = {"from": n("mount"), "to": box[0], "conductance": "0.7 W/K"}
    links[n("deck")] = {
        "table": "from,to,conductance\n0,1,0.11\n1,2,0.13\n2,3,0.17\n",
        "nodes": n("deck"),
    }
    links[n("deck to box")] = {
        "table": f"from,to,conductance\n{n('deck 3')},{box[5]},0.19\n{n('deck 0')},{box[6]},0.23\n"
    }
    return {
        "nodes": nodes,
        "links": links,
        "radiation": {
            n("inside"): {"from": box[2], "to": n("baffle"), "area": "0.021 m2"},
            n("baffle"): {"from": n("baffle"), "to": "space", "area": "0.003 m2"},
        },
        "blankets": {
            n("box"): {
                "from": box[3], "to": n("face"), "area": "0.3 m2", "effective_emittance": 0.023
            }
        },
        "finishes": {n("dull"): {"emittance": 0.43, "absorptance": 0.37}},
        "surfaces": {
            # `to` is left out: its default is `space`
            n("face"): {
                "node": n("face"),
                "area": "0.3 m2",
                "finish": n("dull"),
                "absorbed": {"solar": {"heat": "30 W", "schedule": n("sun")}},
            },
            n("radiator"): {
                "node": box[13],
                "area": "0.04 m2",
                "finish": "white paint",
                "emittance": 0.9,
                "sees": {"space": 0.8, n("baffle"): 0.2},
            },
        },
        "units": {
            n("head"): {
                "shares": {box[7]: 0.25, box[8]: 0.75},
                "heat": {"on": "6.1 W", "safe": "1.3 W"},
                "schedule": n("duty"),
            }
        },
        "loads": {
            n("harness"): {"node": box[9], "heat": "0.7 W"},
            n("deck"): {"table": "node,heat\n0,0.4\n3,0.6\n", "nodes": n("deck")},
        },
        "schedules": {
            n("sun"): {"time": ["0 s", "50 s"], "value": [1, 0], "shape": "steps",
                       "period": "100 s"},
            n("duty"): {"time": ["0 s", "30 s", "100 s"], "value": [0.5, 1, 0.5],
                        "period": "100 s"},
            n("busy"): {"modes": ["on"]},
        },
        "heaters": {
            n("lens"): {
                "node": box[12], "sensor": n("deck 2"), "power": "4 W",
                "on_below": "5 degC", "off_above": "8 degC", "enabled": n("busy"),
            }
        },
        "components": {
            n("detector"): {
                "at": [box[12], n("deck 2")], "operating": ["-40 degC", "60 degC"],
                "unit": n("head"), "held_by": n("lens"),
                "differences": {"along": {"to": box[0], "limit": "50 K"}},
            }
        },
    }  # fmt: skip


HOST: Sections = {
    "nodes": {"plate": {"capacity": "3000 J/K", "initial": "20 degC"}},
    "boundaries": {"space": {"temperature": "2.7 K"}},
    "modes": {"on": {}, "safe": {}},
    "links": {
        f"mount {k}": {"from": "plate", "to": f"{part}/mount", "conductance": "0.9 W/K"}
        for k, part in enumerate(PARTS)
    },
    "surfaces": {"plate": {"node": "plate", "area": "0.2 m2", "emittance": 0.81}},
    "loads": {"plate": {"node": "plate", "heat": "33 W", "schedule": "day"}},
    "schedules": {"day": {"time": ["0 s", "20 s"], "value": [1, 0.3], "shape": "steps",
                          "period": "50 s"}},
    "cases": {
        "mean": {"mode": "on", "life": "beginning of life"},
        "orbit": {"solve": "repeating", "period": "100 s", "mode": "safe",
                  "life": "end of life"},
        "start": {"solve": "transient", "duration": "250 s", "initial": "given", "mode": "on",
                  "life": "beginning of life"},
    },
}  # fmt: skip


def together(*parts: Sections) -> Sections:
    found: Sections = {}
    for part in parts:
        for section, entries in part.items():
            found.setdefault(section, {}).update(entries)
    return found


def write(path: Path, sections: Sections, *, top: str = "") -> Path:
    """A model file; JSON is YAML, but tables must be blocks."""
    lines = ["thermnet: 1", *([top] if top else [])]
    for section, entries in sections.items():
        lines.append(f"{section}:")
        for name, entry in entries.items():
            if name != "table" and "\n" not in str(entry.get("table", "")):
                lines.append(f"  {json.dumps(name)}: {json.dumps(entry)}")
                continue
            keys = {} if name == "table" else {k: v for k, v in entry.items() if k != "table"}
            table = entry if name == "table" else entry["table"]
            indent = "  " if name == "table" else "    "
            lines += [] if name == "table" else [f"  {json.dumps(name)}:"]
            lines += [f"{indent}{json.dumps(key)}: {json.dumps(v)}" for key, v in keys.items()]
            if table.endswith(".csv"):
                lines.append(f"{indent}table: {table}")
            else:
                lines += [f"{indent}table: |", *(f"{indent}  {row}" for row in table.splitlines())]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def supplied(folder: Path) -> Path:
    """The part as a supplier writes it: tables in the file and beside it, modes and cases."""
    part: dict[str, Any] = instrument()
    walls = [name for name in part["links"] if name.startswith("wall")]
    rows = [
        f"{name},{each['from']},{each['to']},{each['conductance']}"
        for name in walls
        for each in [part["links"].pop(name)]
    ]
    (folder / "tables").mkdir(parents=True, exist_ok=True)
    text = "\n".join(["name,from,to,conductance", *rows])
    (folder / "tables" / "walls.csv").write_text(text, encoding="utf-8")
    duty = part["schedules"]["duty"]
    points = zip(duty.pop("time"), duty.pop("value"), strict=True)
    (folder / "duty.csv").write_text(
        "\n".join(["time,value", *(f"{time},{each}" for time, each in points)]), encoding="utf-8"
    )
    duty["table"] = "duty.csv"
    part["links"]["table"] = "tables/walls.csv"
    part["boundaries"] = {"space": {"temperature": "4 K"}}
    part["interfaces"] = {"mount": {"temperature": "20 degC"}}
    part["units"]["head"]["heat"]["test"] = "9 W"
    part["modes"] = {"on": {}, "safe": {}, "test": {}}
    part["cases"] = {"alone": {"mode": "test", "life": "beginning of life"}}
    return write(folder / "camera.yaml", part)
