#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/calibration/held_out_on_bed.hpp"

#include <algorithm>
#include <cmath>

#include "report/bed_map.hpp"
#include "report/bed_picture.hpp"
#include "report/calibration_parts.hpp"
#include "report/page_parts.hpp"

namespace jigtrue {

namespace {

using page::BedMap;
using page::BedShare;
using page::fact;

std::string mm(double value) { return fixed_text(value, 3) + "&nbsp;mm"; }
std::string height_name(double height_mm) {
  return fixed_text(height_mm, height_mm == std::round(height_mm) ? 0 : 2) + " mm";
}

std::vector<double> radii(const BedMap& map, BedShare share) {
  std::vector<double> values;
  for (const auto& point : map.cells)
    if (point) values.push_back(page::share_radius(*point, share));
  std::sort(values.begin(), values.end());
  return values;
}

std::vector<double> joined_radii(const BedMap& one, BedShare one_share, const BedMap& other, BedShare other_share) {
  std::vector<double> values = radii(one, one_share);
  const std::vector<double> more = radii(other, other_share);
  values.insert(values.end(), more.begin(), more.end());
  return values;
}

double middle_of(const std::vector<double>& sorted) { return sorted.empty() ? 0.0 : sorted[sorted.size() / 2]; }

std::string lettering_verdict(const std::vector<double>& sorted_mm) {
  constexpr double kForLettering_mm = Need{}.across_mm / 2.0;  // the other half is the blank's own edges'
  if (sorted_mm.back() <= kForLettering_mm) return "Good enough for lettering of 5 mm everywhere on the bed: ";
  if (middle_of(sorted_mm) <= kForLettering_mm)
    return "Good enough for lettering of 5 mm where the map says up to 0.15 mm: ";
  return "Not good enough for lettering of 5 mm: ";
}

std::string pose_verdict(const BedMap& bed, const PosePageInputs& inputs) {
  const auto on_bed = radii(bed, BedShare::whole);
  if (on_bed.empty()) return "The camera is tied to the bed.";
  const double value = middle_of(on_bed);
  const std::string size = fixed_text(value, value < 0.1 ? 3 : 2) + " mm";
  const std::string known = "a point on the bed is known to " + size + " (95\xC2\xA0%, median over the map)";
  if (!inputs.placement) return lettering_verdict(on_bed) + known + ".";
  if (inputs.placement->xy_sigma_mm > 0.0 && inputs.placement->scale_sigma > 0.0)
    return lettering_verdict(on_bed) + known + ", the board's laying and print included.";
  return "A point on the bed is known as well as the board was laid and its print measured, and at best to " + size +
         " (95\xC2\xA0%, median over the map): state how well that was done to learn whether that serves lettering of "
         "5 mm.";
}

struct Slip {
  std::string what;
  double mm = 0.0;
  std::string remark;
};

// What a slip of each declaration moves, at the place of the map where it moves most: the bed moves with the board,
// grows with its squares, and shifts under slanted sight by height.
std::vector<Slip> laying_slips(const CameraRecord& record, const BedMap& bed, const PosePageInputs& inputs) {
  const BoardPlacement& at = *inputs.placement;
  double far_mm = 0.0;
  double steepest = 0.0;
  const Vector3d centre = record.camera.centre_mm();
  for (int i = 0; i < bed.columns * bed.rows; ++i) {
    if (!bed.at(i % bed.columns, i / bed.columns)) continue;
    const Vector2d place = bed.centre_mm(i % bed.columns, i / bed.columns);
    far_mm = std::max(far_mm, (place - Vector2d(at.x_mm, at.y_mm)).norm());
    steepest = std::max(steepest, (place - centre.head<2>()).norm() / centre.z());
  }
  constexpr double kFittedToPage = 0.02;  // by printers; common practice, no source
  const double long_side_mm = inputs.board->columns * inputs.board->square_mm;
  const double laid_mm = at.xy_sigma_mm > 0.0 ? kCoverageFactor95 * at.xy_sigma_mm : 0.5;
  const double turn_deg = at.angle_sigma_deg > 0.0 ? kCoverageFactor95 * at.angle_sigma_deg
                                                   : deg_from_rad(std::sqrt(2.0) * laid_mm / long_side_mm);
  const double print = at.scale_sigma > 0.0 ? kCoverageFactor95 * at.scale_sigma : kFittedToPage;
  const std::string stated =
      at.xy_sigma_mm > 0.0 ? "As stated. " : "A usual slip; not stated, so not in the numbers below. ";
  const std::string print_stated =
      at.scale_sigma > 0.0 ? "As stated. "
                           : "As a print that nobody measured may be; not stated, so not in the numbers below. ";
  return {
      {"Board " + fixed_text(laid_mm, 2) + " mm off", laid_mm,
       stated + "Everything shifts with it. Given: origin at X " + fixed_text(at.x_mm, 2) + ", Y " +
           fixed_text(at.y_mm, 2) + "."},
      {"Turned " + fixed_text(turn_deg, 2) + "\u00b0 more", far_mm * rad_from_deg(turn_deg),
       stated + "As its far end is laid. Given: " + fixed_text(at.angle_deg, 2) + " degrees."},
      {"Squares " + fixed_text(100.0 * print, 2) + " % larger", far_mm * print,
       print_stated + "Printers scale by 2 to 4 % when they fit a page. Given: " +
           fixed_text(inputs.board->square_mm, 3) + " mm; measure over many squares."},
      {"Face 1 mm higher", steepest, "At slanted sight. Given: " + fixed_text(at.height_mm, 2) + " mm above the bed."}};
}

std::string laying(const CameraRecord& record, const BedMap& bed, const PosePageInputs& inputs) {
  std::string out = "<section aria-labelledby=\"laid\"><h2 id=\"laid\">What was laid by hand comes first</h2>\n";
  if (!inputs.placement || !inputs.board)
    return "<section aria-labelledby=\"laid\"><h2 id=\"laid\">Nothing was laid by hand</h2>\n<p>The machine put the "
           "marks where it said" +
           (inputs.mark_place_sigma_mm > 0.0 ? ", to " + fixed_text(kCoverageFactor95 * inputs.mark_place_sigma_mm, 2) +
                                                   " mm (95 %) as their file has it"
                                             : std::string()) +
           ": the camera is tied to the beam itself.</p></section>\n";
  out +=
      "<p class=\"quiet\">No photo shows these: how far the farthest place of the map moves by each. Marks burned by "
      "the machine itself (jigtrue target, then <span class=\"nobreak\">--marks</span>) do without.</p>\n<div "
      "class=\"scroll\"><table "
      "role=\"table\" class=\"facts\"><tbody role=\"rowgroup\" class=\"plain\">\n";
  for (const Slip& slip : laying_slips(record, bed, inputs))
    out += fact(slip.what, fixed_text(slip.mm, 2) + "&nbsp;mm", markup_text(slip.remark));
  return out + "</tbody></table></div></section>\n";
}

std::string pose_facts(const PoseFit& pose, const CameraRecord& record, const BedMap& bed) {
  const Vector3d centre = record.camera.centre_mm();
  const auto range = [&](BedShare share) {
    const auto values = radii(bed, share);
    if (values.empty()) return std::string("&ndash;");
    return fixed_text(values.front(), 3) + " to " + fixed_text(values.back(), 3) + "&nbsp;mm";
  };
  std::string out =
      "<div class=\"scroll\"><table role=\"table\" class=\"facts\"><tbody role=\"rowgroup\" class=\"plain\">\n";
  out +=
      fact("Lens and pose", range(BedShare::whole),
           "Radius about the given bed point that holds the true one 95 times in 100, over the map below at height 0. "
           "<b>Trust this one</b>; the where command gives the same numbers.");
  out += fact("The lens's part", range(BedShare::lens),
              "What a better lens.json would take away with more photos, and what more photos would not: its model's "
              "own error, and "
              "what the corners of one photo err together.");
  out += fact("The pose's part", range(BedShare::pose),
              std::string("What is left with a lens known exactly: the noise of ") +
                  (pose.further.empty() ? "this one photo" : "these photos") +
                  ". Further flat photos, the board elsewhere on the bed, make it smaller.");
  out += fact("Fit", fixed_text(pose.rms_px, 3) + "&nbsp;px",
              "Root mean square over " + std::to_string(pose.px.size()) + " points; the lens had " +
                  fixed_text(record.lens.rms_px, 3) + "&nbsp;px on its own photos.");
  if (const auto models = held_out_on_bed(record.lens, pose); !models.empty()) {
    std::string others;
    for (std::size_t i = 1; i < models.size(); ++i)
      others += std::string(i == 1 ? " Compared with it: " : ", ") + to_string(models[i].model) + " " +
                fixed_text(models[i].mm, 3) + "&nbsp;mm";
    out += fact("Lens, photos not seen", fixed_text(models.front().mm, 3) + "&nbsp;mm",
                "On this bed, of " + fixed_text(models.front().px, 3) + "&nbsp;px: how far corners lay from where " +
                    to_string(models.front().model) + " puts them in photos left out of its fit." + others +
                    (others.empty() ? "" : "."));
  }
  out += fact("Camera", fixed_text(centre.z(), 0) + "&nbsp;mm up",
              "Over bed X " + fixed_text(centre.x(), 0) + ", Y " + fixed_text(centre.y(), 0) +
                  " mm (the cross in the maps, when it lies within them).");
  return out + "</tbody></table></div>\n";
}

// Three by three places spread over the map, each moved to the nearest one that is seen.
std::vector<Vector2d> spread_places(const BedMap& bed) {
  constexpr int kAcross = 3;
  std::vector<Vector2d> chosen;
  for (int i = 0; i < kAcross * kAcross; ++i) {
    const int column = bed.columns * (2 * (i % kAcross) + 1) / (2 * kAcross);
    const int row = bed.rows * (2 * (i / kAcross) + 1) / (2 * kAcross);
    const Vector2d wanted = bed.centre_mm(column, row);
    std::optional<Vector2d> nearest;
    for (int c = 0; c < bed.columns * bed.rows; ++c) {
      if (!bed.at(c % bed.columns, c / bed.columns)) continue;
      const Vector2d place = bed.centre_mm(c % bed.columns, c / bed.columns);
      if (!nearest || (place - wanted).norm() < (*nearest - wanted).norm()) nearest = place;
    }
    if (nearest && std::find(chosen.begin(), chosen.end(), *nearest) == chosen.end()) chosen.push_back(*nearest);
  }
  return chosen;
}

// Some places, each with what the where command says of its pixel.
std::string places(const CameraRecord& record, const BedMap& bed, double height_mm) {
  std::string out =
      "<div class=\"scroll\"><table role=\"table\" class=\"spread\">\n<caption>What jigtrue where says of some pixels. "
      "Bed point and "
      "its 95 % "
      "radius at height 0, with the parts of lens and pose, and the radius at " +
      markup_text(height_name(height_mm)) + ".</caption>\n<thead role=\"rowgroup\"><tr role=\"row\">";
  for (const char* name : {"Pixel", "Bed X, Y mm", "Radius", "Lens", "Pose"})
    out += std::string("<th role=\"columnheader\" scope=\"col\"") +
           (std::string(name) == "Pixel" ? "" : " class=\"n\"") + ">" + name + "</th>";
  out += "<th role=\"columnheader\" scope=\"col\" class=\"n\">At " + markup_text(height_name(height_mm)) +
         "</th></tr></thead>\n<tbody role=\"rowgroup\" class=\"plain\">\n";
  const auto cell = [](const char* label, const std::string& text) {
    return std::string("<td role=\"cell\" class=\"n\" data-label=\"") + label + "\">" + text + "</td>";
  };
  for (const Vector2d& at : spread_places(bed)) {
    const auto exact = project_bed_point(record.camera, {at.x(), at.y(), 0.0});
    if (!exact) continue;
    const Vector2d px = (*exact * 10.0).array().round().matrix() / 10.0;  // as printed
    const auto point = map_point(record, px, 0.0);
    if (!point) continue;
    const auto raised = map_point(record, px, height_mm);
    out += "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\" class=\"nobreak\">" + fixed_text(px.x(), 1) + ", " +
           fixed_text(px.y(), 1) + "</th>" +
           cell("Bed X, Y mm", fixed_text(point->bed_mm.x(), 3) + ", " + fixed_text(point->bed_mm.y(), 3)) +
           cell("Radius", "<b>" + mm(point->radius_95_mm) + "</b>") +
           cell("Lens", mm(page::share_radius(*point, BedShare::lens))) +
           cell("Pose", mm(page::share_radius(*point, BedShare::pose))) +
           cell("At the height", raised ? mm(raised->radius_95_mm) : "&ndash;") + "</tr>\n";
  }
  return out + "</tbody>\n</table></div>\n";
}

// Further photos: where each one's board was found. Nothing when the first photo stood alone.
std::string further_photos(const PoseFit& pose) {
  if (pose.further.empty()) return {};
  std::string out =
      "<section aria-labelledby=\"further\"><h2 id=\"further\">Further photos</h2>\n<p>They strengthen the plane: "
      "their "
      "boards lie flat on the bed, where the fit found them.</p>\n<div class=\"scroll\"><table role=\"table\">\n<thead "
      "role=\"rowgroup\"><tr role=\"row\">";
  for (const char* name : {"Photo", "Board X, Y mm", "Turned", "Fit"})
    out += std::string("<th role=\"columnheader\" scope=\"col\"") +
           (std::string(name) == "Photo" ? "" : " class=\"n\"") + ">" + name + "</th>";
  out += "</tr></thead>\n<tbody role=\"rowgroup\" class=\"plain\">\n";
  for (const FoundBoard& board : pose.further)
    out += "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\">" + markup_text(board.file) +
           "</th><td role=\"cell\" class=\"n\" data-label=\"Board X, Y mm\">" + fixed_text(board.x_mm, 2) + ", " +
           fixed_text(board.y_mm, 2) + "</td><td role=\"cell\" class=\"n\" data-label=\"Turned\">" +
           fixed_text(board.angle_deg, 2) + "&deg;</td><td role=\"cell\" class=\"n\" data-label=\"Fit\">" +
           fixed_text(board.rms_px, 3) + "&nbsp;px</td></tr>\n";
  return out + "</tbody>\n</table></div></section>\n";
}

std::string witness_marks(const CameraRecord& record) {
  if (record.witness.empty())
    return "<p>No witness marks were given (--witness): nothing on the bed will tell later whether the camera has "
           "moved.</p>\n";
  return "<p>" + std::to_string(record.witness.size()) +
         " witness marks are kept: every check looks for them and says when the camera has moved.</p>\n";
}

}  // namespace

std::string pose_page(const PoseFit& pose, const CameraRecord& record, const PosePageInputs& inputs,
                      const CalibrationPageNotes& notes) {
  const double height_mm = inputs.height_mm;
  const BedMap bed = page::sample_bed(record, pose.points_mm, 0.0);
  const BedMap raised = page::sample_bed(record, pose.points_mm, height_mm);
  const std::vector<double> whole = page::class_bounds(joined_radii(bed, BedShare::whole, raised, BedShare::whole));
  const std::vector<double> parts = page::class_bounds(joined_radii(bed, BedShare::lens, bed, BedShare::pose));
  const auto picture = [&](const BedMap& map, BedShare share, const std::string& caption) {
    const std::vector<double>& bounds = share == BedShare::whole ? whole : parts;
    return page::bed_map_picture(map, share, bounds, pose.points_mm, record.camera.centre_mm(), caption);
  };

  const std::string headline = pose_verdict(bed, inputs);
  std::string out =
      page::head("Camera: " + headline, page::base_style() + page::plot_style() + page::bed_picture_style());
  out += "<body>\n<main>\n<header>\n" + page::origin_line(notes) + "<h1>" + markup_text(headline) +
         "</h1>\n</header>\n" + page::note_list(pose.notes);
  out += "<section aria-labelledby=\"bed\"><h2 id=\"bed\">Is this your bed?</h2>\n" +
         page::bed_picture(pose, record, inputs) + "</section>\n" + laying(record, bed, inputs);
  out +=
      "<section aria-labelledby=\"map\"><h2 id=\"map\">How well each place of the bed is known</h2>\n<p "
      "class=\"quiet\">"
      "Radius that holds the truth 95 times in 100, mm. White dots: the points that gave the pose; surest among them, "
      "less sure the farther away. Blank: not in the picture.</p>\n" +
      page::class_legend(whole) + "<div class=\"pair\">\n" +
      picture(bed, BedShare::whole, "Lens and pose together, on the bed (height 0)") +
      picture(raised, BedShare::whole, "Lens and pose together, " + height_name(height_mm) + " above the bed") +
      "</div>\n<p>Apart:</p>\n" + page::class_legend(parts) + "<div class=\"pair\">\n" +
      picture(bed, BedShare::lens, "The lens's part, with its model's error, height 0") +
      picture(bed, BedShare::pose, "The pose's part, height 0") + "</div></section>\n";
  out += "<section aria-labelledby=\"trust\"><h2 id=\"trust\">Which number to trust</h2>\n" +
         pose_facts(pose, record, bed) + "</section>\n";
  out += "<section aria-labelledby=\"where\"><h2 id=\"where\">In numbers</h2>\n" + places(record, bed, height_mm) +
         "</section>\n";
  out += further_photos(pose);
  const page::ResidualSet residuals{record.camera.lens.width_px, record.camera.lens.height_px, pose.px,
                                    pose.residuals_px};
  out += "<section aria-labelledby=\"left\"><h2 id=\"left\">What is left over in " +
         std::string(pose.further.empty() ? "this photo" : "these photos") + "</h2>\n<div class=\"pair\">\n" +
         page::residual_arrows(residuals) + page::residual_by_radius(residuals, record.camera.lens.principal_px()) +
         "</div></section>\n<section aria-labelledby=\"moved\"><h2 id=\"moved\">Whether it still holds</h2>\n" +
         witness_marks(record) + "</section>\n";
  return out + page::footer(notes);
}

}  // namespace jigtrue
