"""Posterior of a curve of mass by brute force, and least squares by SciPy (Debian 12).

Run as: python3 reference.py > reference.json

The posterior of (level, exponent, variance) of ln mass on ln(area/300) is summed over a
grid with the densities of scipy.stats: no formula of the conjugate family is used.
"""
import json
import numpy as np
from scipy import stats

rng = np.random.default_rng(7)
area = np.array([90.0, 140, 200, 260, 330, 420, 510, 160, 380])
y = np.log(60) + 1.45 * np.log(area / 300) + rng.normal(0, 0.15, len(area))
grams = np.round(np.exp(y), 1)
y = np.log(grams)
x = np.log(area / 300)

m0 = np.array([np.log(71) + 1.6 * np.log(300 / 280), 1.6])
s0 = np.array([0.4, 0.35])  # given a variance of 0.04: prior sd scale with sqrt(variance/0.04)
a0, b0 = 3.0, 0.12  # inverse gamma: freedom 6, sum 0.24

b = np.linspace(3.4, 5.0, 161)
k = np.linspace(0.4, 2.8, 161)
v = np.exp(np.linspace(np.log(0.003), np.log(0.6), 161))
B, K, V = np.meshgrid(b, k, v, indexing="ij")
logp = stats.invgamma.logpdf(V, a0, scale=b0) + np.log(V)  # even in log variance
f = np.sqrt(V / 0.04)
logp += stats.norm.logpdf(B, m0[0], s0[0] * f) + stats.norm.logpdf(K, m0[1], s0[1] * f)
for xi, yi in zip(x, y):
    logp += stats.norm.logpdf(yi, B + K * xi, np.sqrt(V))
p = np.exp(logp - logp.max())
p /= p.sum()
out = {"area": area.tolist(), "grams": grams.tolist(), "level": float((p * B).sum()), "exponent": float((p * K).sum())}
out["level_sd"] = float(np.sqrt((p * B**2).sum() - out["level"] ** 2))
out["exponent_sd"] = float(np.sqrt((p * K**2).sum() - out["exponent"] ** 2))
pred = []
for a in (100.0, 300.0, 550.0):
    mu, sd = B + K * np.log(a / 300), np.sqrt(V)
    t = np.linspace(np.log(2), np.log(600), 3001)
    # a coarse grid of the posterior is enough for the mixture: take every draw by weight
    idx = rng.choice(p.size, size=200000, p=p.ravel())
    draws = rng.normal(mu.ravel()[idx], sd.ravel()[idx])
    pred.append({"area": a, "median": float(np.exp(np.median(draws))), "q05": float(np.exp(np.quantile(draws, 0.05))), "q95": float(np.exp(np.quantile(draws, 0.95)))})
out["predicted"] = pred

r = stats.linregress(x, y)
n = len(x)
s = np.sqrt(np.sum((y - r.intercept - r.slope * x) ** 2) / (n - 2))
ols = []
for a in (100.0, 300.0, 550.0):
    u = np.log(a / 300)
    se = s * np.sqrt(1 + 1 / n + (u - x.mean()) ** 2 / np.sum((x - x.mean()) ** 2))
    t = stats.t.ppf(0.95, n - 2)
    mu = r.intercept + r.slope * u
    ols.append({"area": a, "median": float(np.exp(mu)), "q05": float(np.exp(mu - t * se)), "q95": float(np.exp(mu + t * se))})
out["least_squares"] = {"slope": float(r.slope), "predicted": ols}
print(json.dumps(out, indent=1))
