"""Holds what the tool says of captures to what is true of them.

    score.py TOOL DIR [WORD]

TOOL is the built program; DIR has captures made by gen.py; with WORD, only captures whose truth has it. Writes DIR/said.json
and prints a line for each capture that went wrong, then the shares.
"""
import json
import math
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

PARTICULARS = {
    "data-bit-stuck": ("bit", "level"), "data-bit-weak": ("bit",), "address-line-stuck": ("lines",), "row-dead": ("bit", "row"),
    "column-dead": ("bit", "column"), "colour-path": ("component",), "line-counter": ("counter_bit",), "cell-fetch": ("columns",),
    "border-latch": ("expected", "seen"), "fixed-bars": ("period_px",), "hue-shift": ("degrees",), "interference": ("frequency_hz",),
}
NAMED = 0.5  # a fault counts as named from this probability on


def wilson(k, n, z=1.96):
    """Wilson's interval of a share, as text."""
    if n == 0:
        return "-"
    p, d = k / n, 1 + z * z / n
    middle, half = (p + z * z / (2 * n)) / d, z / d * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return f"{k:4d} of {n:4d}  {100 * p:5.1f} % ({100 * (middle - half):.1f} to {100 * (middle + half):.1f})"


def check(tool, folder, truth):
    """What the tool says of one capture; fills are stated for every second one, as a technician who knows them would."""
    key = str(truth["seed"]) if "seed" in truth else truth["key"]
    source = next(p for p in (f"{folder}/{key}{s}" for s in (".avi", ".mkv", ".mp4", "")) if os.path.exists(p))
    args = [tool, "check", source, "--json", "--display", truth["display"]]
    for flag, name in (("--reference", truth.get("reference")), ("--font", truth.get("font"))):
        if name:
            args += [flag, os.path.join(folder, name)]
    if truth.get("fill") is not None and int(key) % 2 == 0 and truth["display"].startswith("attr"):
        args += ["--fill", f"0x{truth['fill']:02x}"]
    done = subprocess.run(args, capture_output=True, text=True)
    if done.returncode == 2 and "--reference" in done.stderr:  # one that shows nothing: the technician leaves it out, as told
        at = args.index("--reference")
        done = subprocess.run(args[:at] + args[at + 2:], capture_output=True, text=True)
    if done.returncode not in (0, 1, 3):
        sys.exit(f"{key}: {' '.join(args)}\n{done.stderr}")
    return json.loads(done.stdout)


def same(kind, true, said):
    """Whether a fault's particulars are right."""
    for name in PARTICULARS.get(kind, ()):
        a, b = true.get(name), said.get(name)
        if a is None:
            continue
        if name in ("period_px", "frequency_hz"):
            if b is None or abs(b - a) > 0.05 * a:
                return False
        elif name == "degrees":
            if b is None or abs(b - a) > 10:
                return False
        elif a != b:
            return False
    return True


def judge(truth, said):
    """One capture: due and said class and kinds, whether right, and the claims made."""
    shown = [f for f in truth["faults"] if f.get("visible", True)]
    kinds = sorted({f["kind"] for f in shown})
    logic = [f for f in shown if f["class"] != "signal"]
    due = (logic or shown or [{"class": "clean"}])[0]["class"]
    verdict = said["verdict"]
    named = [f for f in verdict["faults"] or [] if f["probability"] >= NAMED] or (verdict["faults"] or [])[:1]
    if verdict["class"] in ("clean", "undetermined"):
        named = []
    names = sorted({f["kind"] for f in named})
    rivals = {r["kind"] for f in shown for r in f.get("rivals") or []}
    hidden = not shown and bool(truth["faults"])
    if hidden:
        right = verdict["class"] in ("clean", "undetermined")
        kind = right
    else:
        right = verdict["class"] == due
        kind = names == kinds or len(kinds) == 1 and len(names) == 1 and names[0] in rivals
    exact = {}
    for f in shown:
        if f["kind"] in PARTICULARS:
            exact[f["kind"]] = any(g["kind"] == f["kind"] and same(f["kind"], f, g) for g in named)
    return {"due": "(nothing shows)" if hidden else "+".join(kinds) or "clean", "due_class": due, "class": verdict["class"],
            "said": "+".join(names) or verdict["class"], "right": right, "kind": kind, "confidence": verdict["confidence"],
            "first": verdict["class"] if verdict["class"] in ("clean", "undetermined") else verdict["faults"][0]["kind"],
            "pair": len(kinds) > 1, "exact": exact, "reference": bool(truth.get("reference"))}


def main():
    tool, folder = sys.argv[1], sys.argv[2]
    word = sys.argv[3] if len(sys.argv) > 3 else ""
    truths = []
    for name in sorted(os.listdir(folder)):
        if name.endswith(".json") and name[:-5].isdigit():
            with open(os.path.join(folder, name)) as f:
                text = f.read()
            if word in text:
                truths.append({"key": name[:-5], **json.loads(text)})
    with ThreadPoolExecutor(2) as pool:
        said = list(pool.map(lambda t: check(tool, folder, t), truths))
    judged = [{"key": t["key"], "display": t["display"], "screen": t["screen"], **judge(t, s)} for t, s in zip(truths, said)]
    with open(os.path.join(folder, "said.json"), "w") as f:
        json.dump(judged, f, indent=1)
    for j in judged:
        if not (j["right"] and j["kind"] and all(j["exact"].values())):
            mark = "class" if not j["right"] else "kind" if not j["kind"] else "exact"
            print(f"{mark:6s}{j['key']} {j['display']} {j['screen']}{' REF' if j['reference'] else ''}: {j['due']} -> {j['said']}"
                  f" {j['confidence'] if j['confidence'] is not None else ''}")
    print()

    def share(title, which, what):
        some = [j for j in judged if which(j)]
        print(f"{title:34s}{wilson(sum(bool(what(j)) for j in some), len(some))}")

    share("class right", lambda j: True, lambda j: j["right"])
    share("  with a reference", lambda j: j["reference"], lambda j: j["right"])
    share("  without", lambda j: not j["reference"], lambda j: j["right"])
    share("kind right", lambda j: True, lambda j: j["kind"])
    share("both of a pair", lambda j: j["pair"], lambda j: j["kind"])
    share("false alarms on clean", lambda j: j["due"] == "clean", lambda j: j["class"] not in ("clean", "undetermined"))
    share("clean called clean", lambda j: j["due"] == "clean", lambda j: j["right"])
    share("undetermined where a fault shows", lambda j: j["due"] not in ("clean", "(nothing shows)"), lambda j: j["class"] == "undetermined")
    print()
    for first in sorted({j["first"] for j in judged}):  # what a verdict is worth that such a fault leads
        for with_reference in (False, True):
            share(f"led by {first}{', reference' if with_reference else ''}",
                  lambda j: j["first"] == first and j["reference"] == with_reference, lambda j: j["right"])
    print()
    for kind in PARTICULARS:
        share("exact " + kind, lambda j: kind in j["exact"], lambda j: j["exact"][kind])


if __name__ == "__main__":
    main()
