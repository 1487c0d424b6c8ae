# Makes reference.json: random programs and what an independent library answers.
# Run with SciPy 1.10.1, NumPy 1.24.2, Python 3.11.2 (Debian 12 packages):
#   python3 make_reference.py > reference.json
# Linear and mixed programs: scipy.optimize.linprog and milp (HiGHS). Bounded
# least squares: scipy.optimize.lsq_linear, method "bvls". Least squares with
# rows: scipy.optimize.minimize, method "SLSQP", several starts.
import json, sys
import numpy as np, scipy
from scipy.optimize import linprog, lsq_linear, minimize, milp, LinearConstraint, Bounds

rng = np.random.default_rng(20261125)
inf = np.inf
def num(v): return None if not np.isfinite(v) else float(v)
def nums(v): return [num(x) for x in v]
def sig(v, d=6): return np.array([float(f"%.{d}g" % x) for x in np.ravel(v)]).reshape(np.shape(v))

def lamps(n, m):
    "responses of n lamps over m plants on a shelf: a fall with distance"
    X = rng.uniform(0, 1.2, n); P = rng.uniform(0, 1.2, m); h = rng.uniform(.2, .4)
    A = np.array([[140*h**2/(h**2+(p-x)**2)**2*0.1 for x in X] for p in P])
    return sig(A*rng.uniform(.9, 1.1, A.shape), 5)

out = {"library": "scipy "+scipy.__version__+", numpy "+np.__version__+", python "+sys.version.split()[0], "linear": [], "squares": [], "steps": [], "within": []}

for k in range(60):
    n, m = int(rng.integers(1, 9)), int(rng.integers(1, 25))
    if k % 3 == 0:
        A = lamps(n, m); lo = np.full(m, float(sig(rng.uniform(20, 260), 3))); hi = np.full(m, inf)
    else:
        A = sig(rng.normal(size=(m, n)), 4)
        if k % 3 == 1: A = np.round(A)   # degenerate
        x0 = rng.uniform(0, 1, n)
        if k % 6 < 5: r = A@x0; w = np.round(rng.uniform(0, 1, m), 1)
        else: r = rng.normal(size=m); w = np.round(rng.uniform(0, .5, m), 1)
        lo, hi = sig(r-w, 4), sig(r+w, 4)
        lo[rng.random(m) < .3] = -inf; hi[rng.random(m) < .3] = inf
    c = sig(rng.uniform(-1, 3, n), 3)
    low = np.zeros(n); high = np.ones(n)
    if k % 3 == 2:
        low[rng.random(n) < .3] = -inf; high[rng.random(n) < .3] = inf
    Aub = np.vstack([A[np.isfinite(hi)], -A[np.isfinite(lo)]]); bub = np.concatenate([hi[np.isfinite(hi)], -lo[np.isfinite(lo)]])
    r = linprog(c, A_ub=Aub if len(bub) else None, b_ub=bub if len(bub) else None, bounds=list(zip(nums(low), nums(high))), method="highs")
    status = {0: "optimal", 2: "infeasible", 3: "unbounded"}.get(r.status, str(r.status)+r.message)
    if r.status == 4: # HiGHS cannot tell unbounded from infeasible: ask without a cost
        f = linprog(0*c, A_ub=Aub, b_ub=bub, bounds=list(zip(nums(low), nums(high))), method="highs")
        status = "unbounded" if f.status == 0 else "infeasible"
    out["linear"].append({"cost": nums(c), "low": nums(low), "high": nums(high), "rows": [{"coef": nums(a), "low": num(l), "high": num(h)} for a, l, h in zip(A, lo, hi)],
        "status": status, "value": num(r.fun) if r.status == 0 else None})

for k in range(40):
    n, m = int(rng.integers(1, 9)), int(rng.integers(3, 25))
    A = lamps(n, m); T = float(sig(rng.uniform(80, 400), 3)); J = sig(A/T, 6)
    low, high = np.full(n, .1), np.ones(n)
    case = {"j": [nums(j) for j in J], "to": [1.0]*m, "low": nums(low), "high": nums(high), "rows": []}
    if k % 2 == 0:
        r = lsq_linear(J, np.ones(m), (low, high), method="bvls", tol=1e-14)
        case["squares"] = float(2*r.cost); case["x"] = nums(r.x)
    else:
        w = sig(rng.uniform(20, 60, n), 3)
        free = lsq_linear(J, np.ones(m), (low, high), method="bvls").x
        cap = float(sig(w@low + rng.uniform(.3, .9)*(w@free-w@low), 4))
        best = None
        for s in range(6):
            r = minimize(lambda x: np.sum((J@x-1)**2), rng.uniform(.1, .5, n), jac=lambda x: 2*J.T@(J@x-1), bounds=list(zip(low, high)),
                constraints=[{"type": "ineq", "fun": lambda x: cap-w@x, "jac": lambda x: -w}], method="SLSQP", options={"ftol": 1e-15, "maxiter": 1000})
            if w@r.x <= cap+1e-9 and (best is None or r.fun < best.fun): best = r
        case["rows"] = [{"coef": nums(w), "low": None, "high": cap}]; case["squares"] = float(best.fun); case["x"] = nums(best.x)
    out["squares"].append(case)

# Dim steps and lamps that may be off: least watts as a mixed program. A lamp draws a
# watts as soon as it is on and b more at full, on at 0.3 to 1 in steps of s.
for k in range(24):
    n, m = int(rng.integers(2, 6)), int(rng.integers(4, 16))
    A = lamps(n, m); a = sig(rng.uniform(0, 8, n), 2); b = sig(rng.uniform(30, 60, n), 3); s = float(rng.choice([.05, .1]))
    if k % 4 == 0: a[:] = 0
    lo = float(sig(rng.uniform(.3, .8)*(A.sum(axis=1)).min(), 3)); hi = float(sig(A.sum(axis=1).max()*rng.uniform(.6, 1.1), 3)) if k % 3 == 0 else inf
    K0, K1 = round(.3/s), round(1/s)
    # variables: k_j integer (steps), y_j on/off; dim = s k
    c = np.concatenate([b*s, a]); M = np.hstack([A*s, np.zeros((m, n))])
    link1 = np.hstack([np.eye(n), -K1*np.eye(n)]); link0 = np.hstack([np.eye(n), -K0*np.eye(n)])
    ylow = np.zeros(n) if k % 2 == 0 else np.ones(n)
    r = milp(c, constraints=[LinearConstraint(M, lo, hi), LinearConstraint(link1, -inf, 0), LinearConstraint(link0, 0, inf)], integrality=np.ones(2*n),
        bounds=Bounds(np.concatenate([np.zeros(n), ylow]), np.concatenate([np.full(n, K1), np.ones(n)])), options={"mip_rel_gap": 0})
    out["steps"].append({"responses": [nums(col) for col in A.T], "start": nums(a), "more": nums(b), "step": s, "off": k % 2 == 0, "low": lo, "high": num(hi),
        "status": {0: "optimal", 2: "infeasible"}.get(r.status, r.message), "watt": num(r.fun) if r.status == 0 else None})

# Most points within limits: exact by a mixed program with big numbers.
for k in range(24):
    n, m = int(rng.integers(2, 6)), int(rng.integers(5, 20))
    A = lamps(n, m); T = float(sig(rng.uniform(.2, .6)*np.median(A.sum(axis=1)), 3)); lo, hi = float(sig(.85*T, 4)), float(sig(1.15*T, 4))
    low, high = np.full(n, .1), np.ones(n)
    small, big = A@low, A@high
    c = np.concatenate([np.zeros(n), -np.ones(m)])
    # A x >= small + z (lo - small);  A x <= big - z (big - hi)
    up = np.hstack([A, -np.diag(np.maximum(lo-small, 0))]); down = np.hstack([A, np.diag(np.maximum(big-hi, 0))])
    r = milp(c, constraints=[LinearConstraint(up, np.minimum(small, lo), inf), LinearConstraint(down, -inf, np.maximum(big, hi))], integrality=np.concatenate([np.zeros(n), np.ones(m)]),
        bounds=Bounds(np.concatenate([low, np.zeros(m)]), np.concatenate([high, np.where((small > hi) | (big < lo), 0, 1)])), options={"mip_rel_gap": 0})
    out["within"].append({"responses": [nums(col) for col in A.T], "low": lo, "high": hi, "target": T, "count": int(round(-r.fun))})

json.dump(out, sys.stdout)
