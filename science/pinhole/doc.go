// Package pinhole places a flat thing of known size before a pinhole camera: from points of
// the plane and where the photo shows them to the camera's place, with its uncertainty, and
// to the scale of the photo anywhere on that plane or on one that is parallel to it.
//
// # Method
//
// A [Homography] is found from points by the normalised direct linear transform
// (HartleyZisserman2004, algorithm 4.2) and made least in the distance of the points in the
// photo by Levenberg-Marquardt (same, section 4.5). [FitPlane] goes further: the homography
// is that of a camera with square pixels, K·[r1 r2 t] (Zhang2000, section 2), so that nine
// numbers are sought: three of rotation, three of place, the focal length and the centre
// of the lens. The last three have a normal prior: four marks cannot tell the focal length
// of a photo taken from straight above. The covariance of the nine is the inverse of JᵀJ
// with the priors, and [Fit.Scale] carries it to the scale at a place.
//
// # Conventions
//
//   - Photo coordinates are pixels, x to the right, y down; pixel (0, 0) covers [0, 1] × [0, 1].
//   - Plane coordinates are mm, x to the right, y down as the plane is read. Heights are mm
//     over the plane towards the camera.
//   - The lens has no distortion; [Lens] tells what one that is not corrected would do.
//   - No randomness; nothing is kept between calls.
//
// # Sources
//
//   - HartleyZisserman2004: the estimation of homographies, and their worked transformation.
//   - Zhang2000: the homography of a plane before a camera, and the closed form of its pose.
package pinhole
