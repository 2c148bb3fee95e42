// What a camera's uncertainty does to anything that is computed through it, lens and pose apart.
#pragma once
#include "jigtrue/camera/camera.hpp"

namespace jigtrue {

// Covariances of a quantity of m components; they add up to what the camera's joint covariance gives.
struct CameraShares {
  // What is known no better because the lens is: the part that a lens known exactly would take away (linear regression
  // on the lens's parameters). A wrong lens also shifts the pose fitted through it; that belongs here.
  MatrixXd lens;
  MatrixXd pose;  // what would be left then: the pose photo's noise, the board's place
};

// by_camera: m x (n + 6), d quantity / d camera, columns as in Camera::covariance, which must be known.
[[nodiscard]] CameraShares camera_shares(const Camera& camera, const MatrixXd& by_camera);

}  // namespace jigtrue
