# The figures that homography_test.go and pose_test.go hold, by OpenCV 4.6.0 (Debian 12, package
# python3-opencv): findHomography(method=0), which makes the sum of squared distances in the second
# plane least, and solvePnP(SOLVEPNP_ITERATIVE). Run: /usr/bin/python3 opencv.py
import cv2, numpy as np
def show(name, a, b):
    h, _ = cv2.findHomography(np.array(a, float), np.array(b, float), 0)
    print(name, ", ".join(repr(float(v)) for v in h.ravel()))
# Coordinates are eighths: OpenCV takes points as float32.
label = [[4,4],[56,4],[56,31],[4,31]]
seen = [[812.5,640.25],[1105.75,655.875],[1088.25,803.125],[801.625,790.75]]
eight = [[0,0],[60,0],[60,35],[0,35],[30,0],[60,17],[30,35],[0,17]]
eightSeen = [[100.25,99.625],[701.25,131.375],[668.75,452.875],[121.75,430.25],[409.25,116.25],[684.125,287.25],[401.125,441.375],[111.625,261.75]]
show("four", [[5,1],[220,1],[220,411],[5,411]], [[375,20],[420,20],[420,300],[450,290]])
show("label", label, seen)
show("eight", eight, eightSeen)
k = np.array([[1500.,0,800],[0,1500.,600],[0,0,1]])
for name, a, b in (("label", label, seen), ("eight", eight, eightSeen)):
    o = np.hstack([np.array(a, float), np.zeros((len(a), 1))])
    ok, r, t = cv2.solvePnP(o, np.array(b, float), k, None, flags=cv2.SOLVEPNP_ITERATIVE)
    R, _ = cv2.Rodrigues(r)
    print("pose", name, "R", ", ".join(repr(float(v)) for v in R.ravel()), "t", ", ".join(repr(float(v)) for v in t.ravel()))
