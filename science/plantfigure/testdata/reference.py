"""Figures of shapes by general-purpose libraries: SciPy, scikit-image, OpenCV (Debian 12).

Run as: python3 reference.py > reference.json
Masks are rows of "." and "#".
"""
import json
import cv2
import numpy as np
import scipy
import skimage
from scipy import ndimage
from scipy.spatial import ConvexHull
from scipy.spatial.distance import pdist
from skimage import filters, measure

rng = np.random.default_rng(20261126)


def blobs(h, w, sigma, share):
    f = ndimage.gaussian_filter(rng.standard_normal((h, w)), sigma)
    return f > np.quantile(f, 1 - share)


def rosette(h, w):
    y, x = np.mgrid[0:h, 0:w]
    t = np.arctan2(y - h / 2, x - w / 2)
    r = np.hypot(y - h / 2, x - w / 2)
    return r < min(h, w) * (0.3 + 0.15 * np.cos(5 * t + 0.7))


masks = {
    "blobs": blobs(48, 72, 2.0, 0.4),
    "fine": blobs(40, 60, 0.9, 0.45),
    "sparse": blobs(50, 50, 1.2, 0.05),
    "rosette": rosette(61, 67),
    "one": np.pad(np.ones((1, 1), bool), 3),
    "all": np.ones((7, 9), bool),
}
out = {"libraries": {"scipy": scipy.__version__, "scikit-image": skimage.__version__, "opencv": cv2.__version__}, "masks": []}
for name, m in masks.items():
    h, w = m.shape
    row = {"name": name, "rows": ["".join("#" if v else "." for v in r) for r in m]}
    for k, c in ((4, 1), (8, 2)):
        row[f"pieces{k}"] = sorted(int(p.area) for p in measure.regionprops(measure.label(m, connectivity=c)))
    if not m.all():
        d = ndimage.distance_transform_edt(m)
        row["squared_inside"] = [int(round(v)) for v in (d**2).ravel()]
        cvd = cv2.distanceTransform(m.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        row["opencv_deepest"] = float(cvd.max())
    padded = np.pad(m.astype(float), 1)
    rings = measure.find_contours(padded, 0.5, fully_connected="high")
    area = sum(0.5 * np.sum(r[:-1, 1] * r[1:, 0] - r[1:, 1] * r[:-1, 0]) for r in rings)
    row["contour_area"] = abs(float(area))
    row["contour_length"] = float(sum(np.sum(np.hypot(*np.diff(r, axis=0).T)) for r in rings))
    pts = np.concatenate(rings)
    hull = ConvexHull(pts)
    row["hull_area"] = float(hull.volume)
    row["feret"] = float(pdist(pts[hull.vertices]).max())
    # the least width lies on a side of the hull: that of the narrowest rectangle along each side
    v = pts[hull.vertices]
    least = np.inf
    for i in range(len(v)):
        e = v[(i + 1) % len(v)] - v[i]
        n = np.array([-e[1], e[0]]) / np.hypot(*e)
        p = v @ n
        least = min(least, p.max() - p.min())
    row["narrow"] = float(least)
    out["masks"].append(row)

f = ndimage.gaussian_filter(rng.standard_normal((30, 40)), 2.5)
f = np.round((f - f.min()) / (f.max() - f.min()), 4)
rings = measure.find_contours(np.pad(f, 1), 0.5, fully_connected="high")
out["map"] = {
    "rows": f.tolist(),
    "rings": len(rings),
    "area": abs(float(sum(0.5 * np.sum(r[:-1, 1] * r[1:, 0] - r[1:, 1] * r[:-1, 0]) for r in rings))),
    "length": float(sum(np.sum(np.hypot(*np.diff(r, axis=0).T)) for r in rings)),
}

out["otsu"] = []
for a, b, n, m in ((20, 120, 5000, 4000), (5, 90, 20000, 400), (60, 90, 3000, 3000), (0, 200, 100, 100)):
    v = np.clip(np.concatenate([rng.normal(a, 8, n), rng.normal(b, 15, m)]), 0, 255).astype(np.uint8)
    t, _ = cv2.threshold(v.reshape(1, -1), 0, 255, cv2.THRESH_OTSU)
    out["otsu"].append({
        "histogram": np.bincount(v, minlength=256).tolist(),
        "opencv": int(t),
        "skimage": int(filters.threshold_otsu(hist=(np.bincount(v, minlength=256), np.arange(256)))),
    })
print(json.dumps(out, separators=(",", ":")))
