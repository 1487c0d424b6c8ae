# Measures the photos that TestWritePhotos writes with the means that OpenCV 4.6.0 (Debian 12,
# python3-opencv) has, the usual way: its QR detector for the label, whose four corners give the
# homography (Debian builds it without the library that decodes: it does not read the code); the photo brought to that plane; excess green and Otsu's threshold for the leaves;
# the largest contour. One photo a line: area, width, processor time with decoding of the JPEG.
# Run: /usr/bin/python3 opencv.py DIR
import sys, time, cv2, numpy as np
cv2.setNumThreads(2)
folder = sys.argv[1]
for line in open(folder + "/truth.txt"):
    name, payload, qr, area, width = line.split()
    qr, area, width = float(qr), float(area), float(width)
    begin = time.process_time()
    m = cv2.imread(folder + "/" + name)
    found, corners = cv2.QRCodeDetector().detect(m)
    if not found:
        print(f"{name}: no code found, {1000*(time.process_time()-begin):.0f} ms")
        continue
    c = corners.reshape(4, 2)
    k = 4.0  # pixels a mm
    reach = 250.0
    to = np.float32([[0, 0], [qr, 0], [qr, qr], [0, qr]]) * k + reach * k
    h = cv2.getPerspectiveTransform(c.astype(np.float32), to)
    size = int(2 * reach * k)
    flat = cv2.warpPerspective(m, h, (size, size), flags=cv2.INTER_AREA)
    b, g, r = [flat[:, :, i].astype(np.float32) for i in range(3)]
    exg = (2 * g - r - b) / np.maximum(r + g + b, 1)
    e8 = np.clip(exg * 255, 0, 255).astype(np.uint8)
    _, mask = cv2.threshold(e8, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    best = max(contours, key=cv2.contourArea)
    blank = np.zeros_like(mask)
    cv2.drawContours(blank, [best], -1, 255, -1)
    a = np.count_nonzero(blank & mask) / k / k / 100
    p = cv2.convexHull(best).reshape(-1, 2).astype(np.float32)
    w = max(np.linalg.norm(p[:, None] - p[None], axis=2).max(), 0) / k
    took = 1000 * (time.process_time() - begin)
    print(f"{name}: area {a:.2f} cm² ({100*(a/area-1):+.2f} %), width {w:.1f} mm ({100*(w/width-1):+.2f} %), {took:.0f} ms")
