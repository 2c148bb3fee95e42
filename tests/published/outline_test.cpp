// Our own computation, by another road: the outline of a blank against a tracer that knows nothing of contours. It asks
// of single sight rays, taken through OpenCV's inverse of the lens, whether they meet the solid (a stack of frusta with
// two flat ends, each met by solving its quadratic equation) and what they meet first, and finds the outline by halving
// between a ray that meets and one that does not.
#include "jigtrue/detection/outline.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <gtest/gtest.h>
#include <opencv2/calib3d.hpp>

namespace jigtrue {
namespace {

enum class Met { nothing, side, start_face, end_face };

// A solid of revolution about an axis in the vertical plane of `heading`, rising by `tilt`.
struct Solid {
  std::vector<Vector2d> profile;  // distance, radius
  Vector3d start = Vector3d::Zero();
  Vector3d axis = Vector3d::UnitX();

  [[nodiscard]] Met first_met(const Vector3d& eye, const Vector3d& way) const {
    // along the axis: eye s0, way ds; across it: eye q0, way dq
    const double s0 = (eye - start).dot(axis);
    const double ds = way.dot(axis);
    const Vector3d q0 = eye - start - s0 * axis;
    const Vector3d dq = way - ds * axis;
    double nearest = 1e300;
    Met met = Met::nothing;
    const auto take = [&](double t, Met what) {
      if (t <= 0.0 || t >= nearest) return;
      nearest = t;
      met = what;
    };
    for (std::size_t i = 1; i < profile.size(); ++i) {
      const Vector2d from = profile[i - 1];
      const Vector2d to = profile[i];
      const double slope = (to.y() - from.y()) / (to.x() - from.x());
      // |q0 + t dq|^2 = (r0 + t dr)^2 with the frustum's radius at the ray's place along the axis
      const double r0 = from.y() + slope * (s0 - from.x());
      const double dr = slope * ds;
      const double a = dq.squaredNorm() - dr * dr;
      const double b = q0.dot(dq) - r0 * dr;
      const double c = q0.squaredNorm() - r0 * r0;
      const double disc = b * b - a * c;
      if (disc < 0.0) continue;
      for (const double sign : {-1.0, 1.0}) {
        const double t = (-b + sign * std::sqrt(disc)) / a;
        const double s = s0 + t * ds;
        if (s >= from.x() && s <= to.x() && r0 + t * dr >= 0.0) take(t, Met::side);
      }
    }
    for (const bool at_start : {true, false}) {
      const Vector2d face = at_start ? profile.front() : profile.back();
      const double t = (face.x() - s0) / ds;
      if ((q0 + t * dq).norm() <= face.y()) take(t, at_start ? Met::start_face : Met::end_face);
    }
    return met;
  }
};

// Sight rays without jigtrue's own lens code.
class Tracer {
 public:
  Tracer(const Camera& camera, Solid solid) : solid_(std::move(solid)) {
    const VectorXd& p = camera.lens.parameters;
    k_ = cv::Matx33d(p[0], 0, p[2], 0, p[1], p[3], 0, 0, 1);
    distortion_.assign(p.data() + 4, p.data() + p.size());
    bed_from_camera_ = camera.camera_from_bed.rotation.transpose();
    eye_ = -(bed_from_camera_ * camera.camera_from_bed.translation);
  }
  [[nodiscard]] Met at(const Vector2d& px) const {
    const std::vector<cv::Point2d> in = {{px.x(), px.y()}};
    std::vector<cv::Point2d> out;
    cv::undistortPoints(in, out, k_, distortion_, cv::noArray(), cv::noArray(),
                        cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 100, 1e-12));
    return solid_.first_met(eye_, bed_from_camera_ * Vector3d(out[0].x, out[0].y, 1.0));
  }

 private:
  Solid solid_;
  cv::Matx33d k_;
  std::vector<double> distortion_;
  Matrix3d bed_from_camera_;
  Vector3d eye_;
};

// Leaning by 25 degrees, 300 mm up and 120 mm to the side: obliquer than a camera in a lid.
Camera oblique_camera(const std::vector<double>& distortion) {
  Camera camera;
  VectorXd parameters(9);
  parameters << 1700.0, 1690.0, 1280.0, 980.0, distortion[0], distortion[1], distortion[2], distortion[3],
      distortion[4];
  camera.lens = make_lens(LensModel::radial5, 2600, 1960, parameters);
  camera.camera_from_bed.rotation = Eigen::AngleAxisd(rad_from_deg(180.0 - 25.0), Vector3d::UnitX()).toRotationMatrix();
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(150.0, 40.0, 300.0));
  return camera;
}

struct Example {
  std::string name;
  BlankShape shape;
  Seat seat;
  // how it lies, worked out here: height of the axis at the start, and its rise over the length
  double height_at_start_mm;
  double sin_tilt;
};

Seat axis_seat(double height_mm) {
  Seat seat;
  seat.kind = AxisSeat{height_mm};
  return seat;
}
Seat vee_seat(double bottom_mm, double angle_deg) {
  Seat seat;
  seat.kind = VeeSeat{bottom_mm, angle_deg};
  return seat;
}

std::vector<Example> examples() {
  std::vector<Example> all;
  all.push_back({"cylinder", RoundBlank{11.0, 138.0}, axis_seat(14.0), 14.0, 0.0});
  // The axis of a cylinder in a right-angled vee lies R sqrt(2) over its bottom.
  all.push_back({"cylinder_in_vee", RoundBlank{12.0, 90.0}, vee_seat(6.0, 90.0), 6.0 + 6.0 * std::sqrt(2.0), 0.0});
  // A cone touches a wall along one line. Its half angle k is the angle between axis and that line, so R cos k is the
  // distance of the axis from the wall, and also sin 45 times its height over the bottom. The height grows with R.
  const double k = std::atan2(2.0, 120.0);
  all.push_back({"cone_in_vee", TurnedBlank{{{0.0, 8.0}, {120.0, 12.0}}}, vee_seat(5.0, 90.0),
                 5.0 + 4.0 * std::cos(k) * std::sqrt(2.0), std::sin(k) * std::sqrt(2.0)});
  all.push_back({"pen_with_tip", TurnedBlank{{{0.0, 9.6}, {3.0, 10.6}, {100.0, 10.6}, {130.0, 3.0}}}, axis_seat(13.0),
                 13.0, 0.0});
  all.push_back({"dowel", RoundBlank{40.0, 110.0}, axis_seat(24.0), 24.0, 0.0});
  return all;
}

Solid solid_of(const Example& example, const BlankPlace& place) {
  Solid solid;
  solid.profile = radius_profile(example.shape);
  const double cos_tilt = std::sqrt(1.0 - example.sin_tilt * example.sin_tilt);
  solid.axis = {cos_tilt * std::cos(place.heading_rad), cos_tilt * std::sin(place.heading_rad), example.sin_tilt};
  const double half = solid.profile.back().x() / 2.0;
  // the middle of its length lies straight over the place
  const Vector3d middle(place.centre_mm.x(), place.centre_mm.y(), example.height_at_start_mm + half * example.sin_tilt);
  solid.start = middle - half * solid.axis;
  return solid;
}

struct Case {
  Example example;
  const char* lens;
  std::vector<double> distortion;
  double heading_deg;
};

std::vector<Case> cases() {
  std::vector<Case> all;
  for (const Example& example : examples()) {
    all.push_back({example, "pinhole", {0, 0, 0, 0, 0}, 0.0});
    all.push_back({example, "barrel", {-0.21, 0.06, 0.0012, -0.0008, 0.01}, 11.0});
    all.push_back({example, "pincushion", {0.05, 0.01, -0.001, 0.002, 0.0}, 107.0});
  }
  return all;
}

class TracedOutline : public testing::TestWithParam<Case> {};
INSTANTIATE_TEST_SUITE_P(Blanks, TracedOutline, testing::ValuesIn(cases()),
                         [](const auto& test) { return test.param.example.name + "_" + test.param.lens; });

// Where along the line from px by -reach to +reach normals what is met changes from the blank's side to anything else.
std::optional<double> edge_along(const Tracer& tracer, const Vector2d& px, const Vector2d& normal, double reach_px) {
  double inside = -reach_px;
  double outside = reach_px;
  if (tracer.at(px + inside * normal) != Met::side || tracer.at(px + outside * normal) == Met::side)
    return std::nullopt;
  for (int i = 0; i < 30; ++i) {
    const double middle = (inside + outside) / 2.0;
    (tracer.at(px + middle * normal) == Met::side ? inside : outside) = middle;
  }
  return (inside + outside) / 2.0;
}

TEST_P(TracedOutline, EverySampleLiesOnIt) {
  const Camera camera = oblique_camera(GetParam().distortion);
  const BlankPlace place{{150.0, 165.0}, rad_from_deg(GetParam().heading_deg), 0.0, 0.0};
  const Blank blank{GetParam().example.shape};
  const Tracer tracer(camera, solid_of(GetParam().example, place));
  const auto samples = outline_samples(camera, blank, GetParam().example.seat, place);
  int long_sides = 0;
  int ends = 0;
  double largest = 0.0;
  for (const OutlineSample& sample : samples) {
    auto edge = edge_along(tracer, sample.px, sample.normal_px, 0.5);
    // beside an end, half a pixel may already lie on the other side of that end
    if (!edge) edge = edge_along(tracer, sample.px, sample.normal_px, 0.01);
    const bool long_side = sample.part == OutlinePart::left || sample.part == OutlinePart::right;
    ASSERT_TRUE(edge) << "nothing changes across the sample at " << sample.px.transpose() << ", part "
                      << static_cast<int>(sample.part) << ", station " << sample.station_mm;
    (long_side ? long_sides : ends) += 1;
    // Rounding: the discriminant is a difference of numbers of 1e10, good to 1e-6; near the outline it grows by 1e4 and
    // more per pixel. OpenCV's inverse stops at 1e-12 of the focal length.
    EXPECT_LT(std::abs(*edge), 1e-6) << "part " << static_cast<int>(sample.part) << ", station " << sample.station_mm;
    largest = std::max(largest, std::abs(*edge));
  }
  RecordProperty("largest_npx", static_cast<int>(1e9 * largest));
  // both sides and both ends, every 2 px
  EXPECT_GT(long_sides, 300);
  EXPECT_GT(ends, 10);
}

// The other way round: wherever the tracer finds the blank's side to end against the background, beside its length,
// the outline has a sample within its spacing, and that one's tangent holds the place.
TEST_P(TracedOutline, LeavesNothingOutAlongTheSides) {
  const Camera camera = oblique_camera(GetParam().distortion);
  const double heading = rad_from_deg(GetParam().heading_deg);
  const BlankPlace place{{150.0, 165.0}, heading, 0.0, 0.0};
  const Solid solid = solid_of(GetParam().example, place);
  const Tracer tracer(camera, solid);
  const auto samples = outline_samples(camera, Blank{GetParam().example.shape}, GetParam().example.seat, place);
  const Vector3d across(-std::sin(heading), std::cos(heading), 0.0);
  int found = 0;
  for (double t = 2.0; t < solid.profile.back().x() - 2.0; t += 1.7) {
    const Vector2d middle = *project_bed_point(camera, solid.start + t * solid.axis);
    const Vector2d beside = *project_bed_point(camera, solid.start + t * solid.axis + across);
    const Vector2d step = (beside - middle).normalized();
    for (const double sign : {-1.0, 1.0}) {
      // from the axis outwards, a pixel at a time, as far as the blank can reach
      double reach = 0.0;
      while (reach < 400.0 && tracer.at(middle + sign * reach * step) == Met::side) reach += 1.0;
      if (reach == 0.0 || tracer.at(middle + sign * reach * step) != Met::nothing) continue;  // ends in an end face
      const auto rest = edge_along(tracer, middle + sign * reach * step, sign * step, 1.0);
      ASSERT_TRUE(rest);
      const Vector2d edge = middle + sign * (reach + *rest) * step;
      const auto nearest = std::min_element(samples.begin(), samples.end(), [&](const auto& a, const auto& b) {
        return (a.px - edge).norm() < (b.px - edge).norm();
      });
      ASSERT_NE(nearest, samples.end());
      EXPECT_LT((nearest->px - edge).norm(), 2.5) << "at " << t << " mm: the outline has a gap there";
      // A place d along from a sample lies d^2 / 2 r off its tangent. Sides bend only by the lens and the profile's
      // corners: r is over 100 px but within 3 mm of a corner, which are passed over.
      const bool at_corner = std::any_of(solid.profile.begin(), solid.profile.end(),
                                         [&](const Vector2d& corner) { return std::abs(corner.x() - t) < 3.0; });
      if (!at_corner) {
        EXPECT_LT(std::abs(nearest->normal_px.dot(edge - nearest->px)), 2.5 * 2.5 / 200.0) << "at " << t << " mm";
      }
      ++found;
    }
  }
  EXPECT_GT(found, 60);
}

}  // namespace
}  // namespace jigtrue
