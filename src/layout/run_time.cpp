#include "jigtrue/layout/run_time.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace jigtrue {
namespace {

constexpr double kFlatTo_mm = 0.02;

struct PlacedLine {
  Polyline2d points;  // bed frame, closed ones lead back
  double half_width_mm = 0.0;
};

std::vector<PlacedLine> placed_lines(const Pass& pass, const PlacedDesign& placed) {
  const double a = rad_from_deg(placed.axis_deg);
  std::vector<PlacedLine> out;
  for (const InkShape& shape : pass.shapes) {
    const double half = shape.stroke ? shape.stroke->width_mm() / 2.0 : 0.0;
    for (const SubPath& path : shape.outline) {
      Polyline2d line = flattened(path, kFlatTo_mm);
      if (path.closed || !shape.fill.empty()) line.push_back(line.front());
      for (Vector2d& p : line)
        p = placed.bed_centre_mm +
            Vector2d(std::cos(a) * p.x() + std::sin(a) * p.y(), std::sin(a) * p.x() - std::cos(a) * p.y());
      out.push_back({std::move(line), half});
    }
  }
  return out;
}

// For every scan line, how far the ink on it reaches.
class ScanLines {
 public:
  explicit ScanLines(double spacing_mm) : spacing_(spacing_mm) {}

  void add(const PlacedLine& line) {
    for (std::size_t i = 1; i < line.points.size(); ++i) add(line.points[i - 1], line.points[i], line.half_width_mm);
  }

  [[nodiscard]] std::size_t count() const { return spans_.size(); }
  [[nodiscard]] double length_mm() const {
    double sum = 0.0;
    for (const auto& [index, span] : spans_) sum += span.second - span.first;
    return sum;
  }

 private:
  void add(Vector2d from, Vector2d to, double half) {
    if (from.y() > to.y()) std::swap(from, to);
    const auto first = static_cast<long>(std::ceil((from.y() - half) / spacing_));
    const auto last = static_cast<long>(std::floor((to.y() + half) / spacing_));
    for (long index = first; index <= last; ++index) {
      const double y = std::clamp(static_cast<double>(index) * spacing_, from.y(), to.y());
      const double rise = to.y() - from.y();
      const double share = rise > 0.0 ? (y - from.y()) / rise : 0.0;
      const double x = from.x() + share * (to.x() - from.x());
      hold(index, x - half, x + half);
      if (rise <= 0.0) hold(index, to.x() - half, to.x() + half);
    }
  }

  void hold(long index, double low, double high) {
    const auto [at, is_new] = spans_.try_emplace(index, low, high);
    if (is_new) return;
    at->second.first = std::min(at->second.first, low);
    at->second.second = std::max(at->second.second, high);
  }

  double spacing_;
  std::map<long, std::pair<double, double>> spans_;
};

void add_scan(PassTime& time, const PassTiming& timing, const std::vector<PlacedLine>& lines) {
  ScanLines scan(10.0 / timing.lines_per_cm);
  for (const PlacedLine& line : lines) scan.add(line);
  const double once = scan.length_mm() + 2.0 * timing.overscan_mm * static_cast<double>(scan.count());
  time.lines += scan.count() * static_cast<std::size_t>(timing.times);
  time.length_mm += timing.times * once;
  time.seconds += timing.times * once / timing.speed_mm_s;
}

double length_of(const Polyline2d& line) {
  double sum = 0.0;
  for (std::size_t i = 1; i < line.size(); ++i) sum += (line[i] - line[i - 1]).norm();
  return sum;
}

void add_trace(PassTime& time, const PassTiming& timing, const std::vector<PlacedLine>& lines, double travel_mm_s,
               std::optional<Vector2d>& head) {
  for (const PlacedLine& line : lines) {
    const double length = length_of(line.points);
    const double jump = head ? (line.points.front() - *head).norm() : 0.0;
    time.length_mm += timing.times * length;
    time.seconds += timing.times * (length / timing.speed_mm_s + jump / travel_mm_s);
    head = line.points.back();
  }
}

}  // namespace

RunTime estimate_run_time(const Placement& placement, double travel_mm_s) {
  RunTime run;
  std::map<std::string, std::size_t> index_of;
  std::map<std::string, std::optional<Vector2d>> heads;
  for (const PlacedDesign& placed : placement.placed) {
    if (!placed.passes) continue;
    for (const Pass& pass : *placed.passes) {
      if (!pass.timing) {
        if (std::find(run.undeclared.begin(), run.undeclared.end(), pass.name) == run.undeclared.end())
          run.undeclared.push_back(pass.name);
        continue;
      }
      const auto [at, is_new] = index_of.try_emplace(pass.name, run.passes.size());
      if (is_new) run.passes.push_back({pass.name, 0.0, 0, 0.0});
      PassTime& time = run.passes[at->second];
      const std::vector<PlacedLine> lines = placed_lines(pass, placed);
      if (pass.timing->kind == PassKind::scan)
        add_scan(time, *pass.timing, lines);
      else
        add_trace(time, *pass.timing, lines, travel_mm_s, heads[pass.name]);
    }
  }
  for (const PassTime& time : run.passes) run.seconds += time.seconds;
  return run;
}

}  // namespace jigtrue
