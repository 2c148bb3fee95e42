#!/usr/bin/env python3
# A calibration by mrcal (Debian: python3-mrcal) from the corners given, and how surely it says a picture's places are
# known. Another program's own work from its own start: nothing of jigtrue's is used.
#
#   mrcal_uncertainty.py < input.json > output.json
# in:  image_size_px [w, h], columns, rows (of corners), spacing, views [[[x, y], ...] row by row],
#      pixels [[x, y], ...], distances [in units of spacing's; 0: infinity]
# out: parameters (fx fy cx cy, then k1 k2 p1 p2 k3), rms_px per coordinate, sigma_px [for each pixel: for each distance],
#      in the worst direction
import json
import sys

import mrcal
import numpy as np


def main():
    given = json.load(sys.stdin)
    size = np.array([given["image_size_px"]], dtype=np.int32)
    views = np.array(given["views"], dtype=float).reshape(-1, given["rows"], given["columns"], 2)
    observations = np.concatenate((views, np.ones(views.shape[:3] + (1,))), axis=-1)
    count = len(views)
    indices = np.array([[i, 0, -1] for i in range(count)], dtype=np.int32)
    core, _, frames = mrcal.seed_stereographic(imagersizes=size, focal_estimate=[float(size[0, 0])],
                                               indices_frame_camera=indices[:, :2].copy(), observations=observations,
                                               object_spacing=given["spacing"])
    inputs = dict(intrinsics=core.astype(float), extrinsics_rt_fromref=np.zeros((0, 6)), frames_rt_toref=frames,
                  points=None, observations_board=observations, indices_frame_camintrinsics_camextrinsics=indices,
                  observations_point=None, indices_point_camintrinsics_camextrinsics=None,
                  lensmodel="LENSMODEL_STEREOGRAPHIC", imagersizes=size,
                  calibration_object_spacing=given["spacing"], calobject_warp=None,
                  do_optimize_intrinsics_core=True, do_optimize_intrinsics_distortions=True,
                  do_optimize_extrinsics=True, do_optimize_frames=True, do_optimize_calobject_warp=False,
                  do_apply_outlier_rejection=False, do_apply_regularization=False, verbose=False)
    mrcal.optimize(**inputs)
    inputs["lensmodel"] = "LENSMODEL_OPENCV5"
    inputs["intrinsics"] = np.concatenate((inputs["intrinsics"], np.zeros((1, 5))), axis=-1)
    stats = mrcal.optimize(**inputs)
    model = mrcal.cameramodel(optimization_inputs=inputs, icam_intrinsics=0)
    sigma = []
    for pixel in given["pixels"]:
        ray = mrcal.unproject(np.array(pixel, dtype=float), *model.intrinsics(), normalize=True)
        sigma.append([float(mrcal.projection_uncertainty(ray * (d if d > 0 else 1.0), model, atinfinity=d <= 0,
                                                         what="worstdirection-stdev")) for d in given["distances"]])
    json.dump({"parameters": inputs["intrinsics"][0].tolist(), "rms_px": float(stats["rms_reproj_error__pixels"]),
               "sigma_px": sigma}, sys.stdout)


main()
