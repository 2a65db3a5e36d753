"""Lengths, falls, covers and gaps of a drainage model, worked out apart from the program under test.

    python3 check.py MODEL.inp DIGS.json    writes JSON to standard output

Standard library only, and none of the program's own ways:
- the triangulation is found by its definition, every circle through three nodes tried against every other node,
  in whole thousandths of a foot, so it is exact; a model with more than one answer is refused;
- least covers are found by golden section, twice nested, over the piece of the pipe's plan that lies in a triangle:
  level of the triangle minus the outside top of the pipe is convex there;
- distances in plan are the least of all distances between edges.
Lengths in the answer are metres; the model's are international feet (0.3048 m exactly).
"""

import json
import math
import sys
from decimal import Decimal
from itertools import combinations

FOOT = Decimal("0.3048")
SIGMA_M = 0.002  # both in plan (each axis) and in level, as the test states them
# 95 % of a level: the normal quantile 0.975; 95 % in plan of two equal axes: sqrt(-2 ln 0.05).
U95_LEVEL = 1.959963984540054
U95_PLAN = math.sqrt(-2.0 * math.log(0.05))
SURFACE_U95_M = U95_LEVEL * SIGMA_M
LEAST_FALL = 0.005
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


def sections(path):
    found, rows = {}, None
    with open(path, encoding="utf-8") as lines:
        for line in lines:
            words = line.split(";")[0].split()
            if words and words[0].startswith("["):
                rows = found.setdefault(words[0].strip("[]").upper(), [])
            elif words:
                rows.append(words)
    return found


class Model:
    def __init__(self, path):
        s = sections(path)
        self.xy = {r[0]: (Decimal(r[1]), Decimal(r[2])) for r in s["COORDINATES"]}
        self.invert = {r[0]: Decimal(r[1]) for k in ("JUNCTIONS", "OUTFALLS", "STORAGE") for r in s[k]}
        self.rim = {r[0]: Decimal(r[1]) + Decimal(r[2]) for k in ("JUNCTIONS", "STORAGE") for r in s[k]}
        self.bore = {r[0]: Decimal(r[2]) for r in s["XSECTIONS"]}
        assert all(r[1] == "CIRCULAR" for r in s["XSECTIONS"])
        self.corners = {}
        for r in s.get("VERTICES", []):
            self.corners.setdefault(r[0], []).append((Decimal(r[1]), Decimal(r[2])))
        self.pipes = s["CONDUITS"]
        self.origin = (Decimal(2747000), Decimal(1119000))

    def local(self, p):
        return tuple(float((p[i] - self.origin[i]) * FOOT) for i in (0, 1))


def cross(o, a, b):
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])


def in_circle(a, b, c, p):
    """Above zero inside the circle through a, b, c (anticlockwise), zero on it."""
    rows = [(q[0] - p[0], q[1] - p[1]) for q in (a, b, c)]
    (ax, ay), (bx, by), (cx, cy) = rows
    aa, bb, cc = (x * x + y * y for x, y in rows)
    return aa * (bx * cy - by * cx) - bb * (ax * cy - ay * cx) + cc * (ax * by - ay * bx)


def delaunay(points):
    """Triangles (anticlockwise, by index) whose circle holds no other point; whole numbers in, no rounding."""
    triangles = []
    for i, j, k in combinations(range(len(points)), 3):
        turn = cross(points[i], points[j], points[k])
        if turn == 0:
            continue
        if turn < 0:
            j, k = k, j
        others = (points[m] for m in range(len(points)) if m not in (i, j, k))
        worst = -1
        for p in others:
            inside = in_circle(points[i], points[j], points[k], p)
            if inside >= 0:
                worst = inside
                if inside > 0:
                    break
        if worst == 0:
            raise SystemExit("four nodes on one circle: the triangulation is not unique")
        if worst < 0:
            triangles.append((i, j, k))
    return triangles


class Ground:
    def __init__(self, model):
        names = sorted(model.rim)
        whole = [tuple(int(c * 1000) for c in model.xy[n]) for n in names]
        self.p = [model.local(model.xy[n]) + (float(model.rim[n] * FOOT),) for n in names]
        self.triangles = [[self.p[i] for i in t] for t in delaunay(whole)]
        self.facets = [(t, plane(*t)) for t in self.triangles]
        self.hull = hull(self.p)
        # As many triangles as the hull says there must be.
        assert len(self.triangles) == 2 * len(names) - 2 - len(self.hull), "hull and triangles disagree"

    def level(self, x, y):
        for t, (g, h, c) in self.facets:
            if all(cross(t[i], t[(i + 1) % 3], (x, y)) >= 0.0 for i in range(3)):
                return g * x + h * y + c
        return None

    def inside_by(self, x, y):
        """How far inside the hull, metres; below zero outside (then only the sign means something)."""
        edges = zip(self.hull, self.hull[1:] + self.hull[:1])
        return min(cross(a, b, (x, y)) / math.dist(a[:2], b[:2]) for a, b in edges)


def plane(a, b, c):
    d = cross(a, b, c)
    g = ((b[2] - a[2]) * (c[1] - a[1]) - (c[2] - a[2]) * (b[1] - a[1])) / d
    h = ((b[0] - a[0]) * (c[2] - a[2]) - (c[0] - a[0]) * (b[2] - a[2])) / d
    return g, h, a[2] - g * a[0] - h * a[1]


def hull(points):
    ordered = sorted(points)
    chains = []
    for run in (ordered, ordered[::-1]):
        chain = []
        for p in run:
            while len(chain) > 1 and cross(chain[-2], chain[-1], p) <= 0:
                chain.pop()
            chain.append(p)
        chains.append(chain[:-1])
    return chains[0] + chains[1]


class Leg:
    """A straight piece of pipe: everything within r of the axis from a to b."""

    def __init__(self, a, b, r):
        self.a, self.b, self.r = a, b, r
        self.length = math.dist(a[:2], b[:2])
        self.dir = ((b[0] - a[0]) / self.length, (b[1] - a[1]) / self.length)
        self.slope = (b[2] - a[2]) / self.length
        self.secant = math.hypot(1.0, self.slope)

    def plan(self, s, w):
        """The place s along and w to the left of the axis."""
        (dx, dy) = self.dir
        return self.a[0] + s * dx - w * dy, self.a[1] + s * dy + w * dx

    def along(self, x, y):
        dx, dy = x - self.a[0], y - self.a[1]
        return dx * self.dir[0] + dy * self.dir[1], dy * self.dir[0] - dx * self.dir[1]

    def top(self, s, w):
        """Level of the outside top over a place; beside the pipe far below it, and the farther the lower."""
        if abs(w) < self.r:
            half = math.sqrt(self.r * self.r - w * w)
            foot = s * self.secant + half * self.slope  # along the axis, in space
            if 0.0 <= foot <= self.length * self.secant:
                return self.a[2] + self.slope * s + half * self.secant
        else:
            foot = s * self.secant
        end, off = (self.a, s) if foot < 0.5 * self.length * self.secant else (self.b, s - self.length)
        room = self.r * self.r - off * off - w * w
        if room >= 0.0 and (foot < 0.0 or foot > self.length * self.secant):
            return end[2] + math.sqrt(room)
        beside = max(abs(w) - self.r, -s - self.r, s - self.length - self.r, 0.0)
        return -1e4 - 1e6 * (beside + max(0.0, math.hypot(off, w) - self.r if not 0 <= s <= self.length else 0.0))


def clip(polygon, a, b):
    """The part of a convex polygon to the left of a line."""
    kept = []
    for p, q in zip(polygon, polygon[1:] + polygon[:1]):
        dp, dq = cross(a, b, p), cross(a, b, q)
        if dp >= 0.0:
            kept.append(p)
        if (dp > 0.0 > dq) or (dp < 0.0 < dq):
            t = dp / (dp - dq)
            kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return kept


def golden(f, low, high, turns):
    a, b = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    fa, fb = f(a), f(b)
    best = min(fa, fb, f(low), f(high))
    for _ in range(turns):
        if fa <= fb:
            high, b, fb = b, a, fa
            a = high - GOLDEN * (high - low)
            fa = f(a)
        else:
            low, a, fa = a, b, fb
            b = low + GOLDEN * (high - low)
            fb = f(b)
        best = min(best, fa, fb)
    return best


def least_over(leg, polygon, level, floor_drop=0.0):
    """Least of level(x) - floor_drop - top of the pipe over a convex polygon; None where the pipe is not over it."""
    r = leg.r
    local = [leg.along(p[0], p[1]) for p in polygon]
    frame = [(-r, -r), (leg.length + r, -r), (leg.length + r, r), (-r, r)]
    for a, b in zip(frame, frame[1:] + frame[:1]):
        local = clip(local, a, b)
        if len(local) < 3:
            return None
    g, h, c = level
    (dx, dy) = leg.dir
    x0, y0, _ = leg.a
    along, across, here = g * dx + h * dy, h * dx - g * dy, g * x0 + h * y0 + c - floor_drop
    sides = list(zip(local, local[1:] + local[:1]))

    def over(s):
        cuts = []
        for p, q in sides:
            if min(p[0], q[0]) <= s <= max(p[0], q[0]):
                if p[0] == q[0]:
                    cuts += [p[1], q[1]]
                else:
                    cuts.append(p[1] + (s - p[0]) / (q[0] - p[0]) * (q[1] - p[1]))
        if not cuts:
            return math.inf
        return golden(lambda w: here + along * s + across * w - leg.top(s, w), min(cuts), max(cuts), 40)

    least = golden(over, min(p[0] for p in local), max(p[0] for p in local), 48)
    return least if least < 5e3 else None


def cover(leg, ground):
    """Least cover over a leg, the steepest triangle it meets, and the length of axis not wholly under the surface."""
    least, steepest = None, 0.0
    for t, level in ground.facets:
        found = least_over(leg, [p[:2] for p in t], level)
        if found is not None:
            least = found if least is None else min(least, found)
            steepest = max(steepest, math.hypot(level[0], level[1]))
    # The hull is convex, so each of its sides leaves a stretch of axis at least r inside it.
    low, high = 0.0, leg.length
    for a, b in zip(ground.hull, ground.hull[1:] + ground.hull[:1]):
        d = math.dist(a[:2], b[:2])
        at_a, at_b = cross(a, b, leg.a) / d - leg.r, cross(a, b, leg.b) / d - leg.r
        if at_a < 0.0 and at_b < 0.0:
            low, high = 0.0, 0.0
        elif at_a < 0.0:
            low = max(low, leg.length * at_a / (at_a - at_b))
        elif at_b < 0.0:
            high = min(high, leg.length * at_a / (at_a - at_b))
    return least, steepest, (leg.length - max(0.0, high - low)) * leg.secant


def axis_of(shots, r_in):
    """The axis above shots on the inside bottom: square to the leg in its upright plane, along the mitre at a joint."""
    axis = [p[:2] + (p[2] + r_in,) for p in shots]
    for _ in range(60):
        normals = []
        for a, b in zip(axis, axis[1:]):
            run, rise = math.dist(a[:2], b[:2]), b[2] - a[2]
            long = math.hypot(run, rise)
            normals.append((-(b[0] - a[0]) / run * rise / long, -(b[1] - a[1]) / run * rise / long, run / long))
        moved = []
        for i, p in enumerate(shots):
            n1, n2 = normals[max(i - 1, 0)], normals[min(i, len(normals) - 1)]
            share = 1.0 / (1.0 + sum(u * v for u, v in zip(n1, n2)))
            moved.append(tuple(p[j] + r_in * (n1[j] + n2[j]) * share for j in range(3)))
        axis = moved
    return axis


def point_to_segment(p, a, b):
    dx, dy = b[0] - a[0], b[1] - a[1]
    t = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)
    t = min(1.0, max(0.0, t))
    return math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def in_polygon(p, ring):
    inside = False
    for a, b in zip(ring, ring[1:] + ring[:1]):
        if (a[1] > p[1]) != (b[1] > p[1]) and p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]):
            inside = not inside
    return inside


def segment_to_polygon(a, b, ring):
    if in_polygon(a, ring):
        return 0.0
    least = math.inf
    for p, q in zip(ring, ring[1:] + ring[:1]):
        if cross(a, b, p) * cross(a, b, q) < 0 and cross(p, q, a) * cross(p, q, b) < 0:
            return 0.0
        for x, s, t in ((a, p, q), (b, p, q), (p, a, b), (q, a, b)):
            least = min(least, point_to_segment(x, s, t))
    return least


def distance_in_space(leg, ring, floor):
    """From a leg to a pit with a level floor and plumb sides, open upward."""

    def off(t):
        p = tuple(leg.a[j] + t * (leg.b[j] - leg.a[j]) for j in range(3))
        plan = 0.0 if in_polygon(p, ring) else min(point_to_segment(p, a, b) for a, b in zip(ring, ring[1:] + ring[:1]))
        return math.hypot(plan, max(0.0, floor - p[2]))

    steps = 2000
    values = [off(i / steps) for i in range(steps + 1)]
    least = min(values)
    for i in range(steps + 1):
        if values[i] <= least + leg.length / steps:
            least = min(least, golden(off, max(0, i - 1) / steps, min(steps, i + 1) / steps, 40))
    return max(0.0, least - leg.r)


def area(ring):
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1])) / 2.0


def shots_of(model, pipe):
    name, up, down = pipe[:3]
    plan = [model.local(p) for p in [model.xy[up]] + model.corners.get(name, []) + [model.xy[down]]]
    ends = model.invert[up] + Decimal(pipe[5]), model.invert[down] + Decimal(pipe[6])
    high, low = (float(e * FOOT) for e in ends)
    far = [0.0]
    for a, b in zip(plan, plan[1:]):
        far.append(far[-1] + math.dist(a, b))
    return [p + (high + (low - high) * f / far[-1],) for p, f in zip(plan, far)]


def fall_of(a, b, length):
    drop = a - b
    u95 = U95_LEVEL * math.sqrt(2.0) * SIGMA_M
    g, u = drop / length, u95 / length
    verdict = "met" if g - u >= LEAST_FALL else "short" if g + u < LEAST_FALL or g < 0 else "not-proved"
    return {"drop_m": drop, "drop_u95_m": u95, "percent": 100 * g, "one_in": length / drop if drop > 0 else None,
            "verdict": verdict}


def depth(ground, at, invert):
    """Depth to invert where it was touched; `edge` when that is on the rim of the surface but for rounding."""
    if abs(ground.inside_by(*at)) < 1e-6:
        return "edge"
    level = ground.level(*at)
    return None if level is None else level - invert


def main(path, digs_path):
    model = Model(path)
    ground = Ground(model)
    runs, tubes = {}, {}
    for pipe in model.pipes:
        name = pipe[0]
        bore = float(model.bore[name] * FOOT)
        outside = bore * 14.0 / 12.0
        shots = shots_of(model, pipe)
        axis = axis_of(shots, bore / 2.0)
        legs = [Leg(a, b, outside / 2.0) for a, b in zip(axis, axis[1:])]
        tubes[name] = legs
        answer = []
        for i, leg in enumerate(legs):
            least, steepest, unknown = cover(leg, ground)
            answer.append({"length_m": leg.length, "least_cover_m": least, "steepest": steepest,
                           "unknown_m": unknown, "fall": fall_of(shots[i][2], shots[i + 1][2], math.dist(shots[i][:2], shots[i + 1][:2]))})
        runs[name] = {"legs": answer, "stated_length_m": float(Decimal(pipe[3]) * FOOT), "outside_m": outside,
                      "inverts_m": [p[2] for p in shots],
                      "depths_m": [depth(ground, p[:2], p[2]) for p in shots]}
    digs = []
    with open(digs_path, encoding="utf-8") as text:
        asked = json.load(text)
    for dig in asked:
        feet = lambda ring: [model.local([Decimal(c) for c in p]) for p in ring]
        ring, pieces = feet(dig["outline_ft"]), [feet(p) for p in dig["pieces_ft"]]
        assert all(area(p) > 0 for p in pieces) and abs(area(ring) - sum(map(area, pieces))) < 1e-6, dig["name"]
        set_out = float(dig["set_out_m"])
        found = {}
        for name, legs in tubes.items():
            r = legs[0].r
            plan = min(segment_to_polygon(leg.a, leg.b, ring) for leg in legs)
            one = {"horizontal_gap_m": max(0.0, plan - r),
                   "worst_horizontal_gap_m": max(0.0, plan - r - U95_PLAN * SIGMA_M - set_out)}
            if dig["floor_level_m"] is not None:
                floor = float(dig["floor_level_m"])
                one["gap_m"] = min(distance_in_space(leg, ring, floor) for leg in legs)
                floors = [(piece, (0.0, 0.0, floor), 0.0) for piece in pieces]
            else:
                floors = []
                for t, level in ground.facets:
                    for piece in pieces:
                        part = piece
                        for i in range(3):
                            part = clip(part, t[i], t[(i + 1) % 3]) if len(part) > 2 else []
                        if len(part) > 2:
                            floors.append((part, level, float(dig["depth_m"])))
            gaps = [least_over(leg, p, level, drop) for leg in legs for p, level, drop in floors] if plan < r else []
            one["vertical_gap_m"] = min((g for g in gaps if g is not None), default=None)
            found[name] = one
        digs.append({"name": dig["name"], "area_m2": area(ring), "runs": found})
    json.dump({"triangles": len(ground.triangles), "surface_u95_m": SURFACE_U95_M, "u95_plan_m": U95_PLAN * SIGMA_M,
               "u95_level_m": U95_LEVEL * SIGMA_M, "runs": runs, "digs": digs}, sys.stdout, indent=1)


if __name__ == "__main__":
    main(*sys.argv[1:])
