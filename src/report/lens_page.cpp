#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/report/board_scale.hpp"
#include "jigtrue/report/photo_advice.hpp"

#include <algorithm>
#include <cmath>

#include "report/calibration_parts.hpp"
#include "report/page_parts.hpp"

namespace jigtrue {

namespace {

using page::fact;

std::string px(double value) { return fixed_text(value, 3) + "&nbsp;px"; }

int used_photos(const LensFit& fit) {
  return static_cast<int>(
      std::count_if(fit.photos.begin(), fit.photos.end(), [](const PhotoFit& photo) { return photo.used; }));
}

// One kind of model may have been tried with more and with fewer terms.
const ModelTrial* chosen_trial(const LensFit& fit) {
  const ModelTrial* chosen = nullptr;
  for (const ModelTrial& trial : fit.trials)
    if (trial.model == fit.lens.model && (chosen == nullptr || trial.remark.starts_with("chosen"))) chosen = &trial;
  return chosen;
}

std::string lens_verdict(const LensFit& fit, const std::vector<std::string>& advice) {
  const ModelTrial* trial = chosen_trial(fit);
  const auto short_px = [](double value) { return fixed_text(value, value < 0.1 ? 3 : 2) + " px"; };
  const std::string held = trial != nullptr && trial->held_out_px > 0.0
                               ? short_px(trial->held_out_px) + " on photos that it has not seen"
                               : short_px(fit.rms_px) + " on its own photos";
  const std::string figure = "this lens predicts to " + held + ".";
  if (!advice.empty())
    return (advice.size() == 1 ? "Take the photo below first: " : "Take the photos below first: ") +
           ("parts of the picture, or ways to hold the board, are missing. So far " + figure);
  constexpr double kForLettering_mm = Need{}.across_mm / 3.0;  // the pose and the blank's own edges want theirs
  const double px = trial != nullptr && trial->held_out_px > 0.0 ? trial->held_out_px : fit.rms_px;
  return (px * mm_per_px(fit) <= kForLettering_mm ? "Good enough for lettering of 5 mm: "
                                                  : "Not good enough for lettering of 5 mm: ") +
         figure;
}

std::string advice_list(const std::vector<std::string>& advice) {
  if (advice.empty())
    return "<p>No photo is missing: every field of the picture holds corners, and boards were tilted towards all four "
           "sides.</p>\n";
  std::string out = "<section class=\"todo next\" aria-label=\"The next photos to take\"><ul>\n";
  for (const std::string& sentence : advice) out += "<li>" + markup_text(sentence) + "</li>\n";
  return out +
         "</ul></section>\n<p class=\"quiet\">Take these with the camera set as before, then run the lens command "
         "on old and new photos together.</p>\n";
}

std::string fault_list(const std::vector<std::string>& faults) {
  if (faults.empty()) return {};
  std::string out = "<section class=\"todo\" aria-label=\"Photos to take again\"><ul>\n";
  for (const std::string& sentence : faults) out += "<li>" + markup_text(sentence) + "</li>\n";
  return out + "</ul></section>\n";
}

// --- the coverage picture ---

std::string fields(const Coverage& covered, double wide, double high) {
  constexpr int kFew = 8;  // corners; fewer in a field say little about it
  std::string out;
  for (int row = 0; row < kFieldRows; ++row) {
    for (int column = 0; column < kFieldColumns; ++column) {
      const int count = covered.at(column, row);
      out += "<rect class=\"";
      out += count == 0 ? "gap" : (count < kFew ? "few" : "full");
      out += "\" x=\"" + fixed_text(wide * column / kFieldColumns, 1) + "\" y=\"" +
             fixed_text(high * row / kFieldRows, 1) + "\" width=\"" + fixed_text(wide / kFieldColumns, 1) +
             "\" height=\"" + fixed_text(high / kFieldRows, 1) + "\"/>";
    }
  }
  return out;
}

std::string field_counts(const Coverage& covered, double wide, double high) {
  std::string out;
  for (int row = 0; row < kFieldRows; ++row) {
    for (int column = 0; column < kFieldColumns; ++column) {
      const int count = covered.at(column, row);
      out += std::string("<text class=\"count") + (count == 0 ? " none" : "") + "\" x=\"" +
             fixed_text(wide * column / kFieldColumns + 5.0, 1) + "\" y=\"" +
             fixed_text(high * row / kFieldRows + 14.0, 1) + "\">" + (count == 0 ? "none" : std::to_string(count)) +
             "</text>";
    }
  }
  return out;
}

std::string coverage_picture(const LensFit& fit) {
  const double scale = page::kPlotWide / fit.lens.width_px;
  const double high = scale * fit.lens.height_px;
  std::string dots;
  std::string crosses;
  for (const PhotoFit& photo : fit.photos) {
    for (std::size_t i = 0; i < photo.points.size(); ++i) {
      const Vector2d at = scale * (photo.points[i].px + Vector2d(0.5, 0.5));
      if (photo.used && photo.point_used[i]) {
        dots += "M" + fixed_text(at.x(), 1) + " " + fixed_text(at.y(), 1) + "h0";
      } else {
        crosses += "M" + fixed_text(at.x() - 2.5, 1) + " " + fixed_text(at.y() - 2.5, 1) + "l5 5m-5 0l5 -5";
      }
    }
  }
  const Coverage covered = coverage(fit);
  std::string out = "<figure class=\"plot\"><svg role=\"img\" viewBox=\"-1 -1 602 " + fixed_text(high + 2.0, 1) +
                    "\"><title>Where the boards&#39; corners fell in the picture; " + std::to_string(covered.empty()) +
                    " of 48 fields are without</title><rect class=\"frame\" width=\"600\" height=\"" +
                    fixed_text(high, 1) + "\"/>" + fields(covered, page::kPlotWide, high) + "<path class=\"dot\" d=\"" +
                    dots + "\"/><path class=\"out\" d=\"" + crosses + "\"/>" +
                    field_counts(covered, page::kPlotWide, high);
  return out +
         "</svg><figcaption>The whole picture in 8 x 6 fields with the number of corners in each. Dots: corners used. "
         "Crosses: left out. Dashed fields hold none: there the lens is extrapolated.</figcaption></figure>\n";
}

// --- tables ---

std::string sheet_fact(const BoardShapeFit& shape) {
  const auto with_sigma = [](double value, double sigma, int digits) {
    return fixed_text(value, digits) + " &plusmn;&nbsp;" + fixed_text(kCoverageFactor95 * sigma, digits);
  };
  return fact("The sheet", fixed_text(std::max(std::abs(shape.bow_x_mm), std::abs(shape.bow_y_mm)), 2) + "&nbsp;mm",
              "Bow of its middle towards the camera: " + with_sigma(shape.bow_x_mm, shape.sigma[1], 2) +
                  "&nbsp;mm along its long side, " + with_sigma(shape.bow_y_mm, shape.sigma[2], 2) +
                  "&nbsp;mm along its short one. Short side long by " +
                  with_sigma(100.0 * shape.stretch, 100.0 * shape.sigma[0], 3) +
                  "&nbsp;% against the long one. The lens allows for all three.");
}

std::string lens_facts(const LensFit& fit) {
  const double size = mm_per_px(fit);
  const auto mm = [&](double value) {
    return "about " + fixed_text(value * size, 3) + "&nbsp;mm at the boards&#39; distance";
  };
  std::string out =
      "<div class=\"scroll\"><table role=\"table\" class=\"facts\"><tbody role=\"rowgroup\" class=\"plain\">\n";
  const ModelTrial* trial = chosen_trial(fit);
  if (trial != nullptr && trial->held_out_px > 0.0) {
    out += fact("On photos not seen", px(trial->held_out_px),
                mm(trial->held_out_px) +
                    ". <b>Trust this one</b>: half of each board predicted from its other half, by a lens fitted "
                    "without that photo. The corners&#39; errors alone would give " +
                    px(trial->by_noise_px) + ".");
  }
  out += fact("On its own photos", px(fit.rms_px),
              mm(fit.rms_px) + ". Root mean square per corner; says how well the model follows what it was fitted to.");
  out +=
      fact("Corners err alone", px(fit.noise_px), "One axis; estimated from the photos. More corners average it away.");
  out += fact("Neighbours err together", px(fit.together_px),
              "One axis: what the paper&#39;s waves, light and blur do to neighbouring corners alike. The " +
                  std::to_string(fit.corner_count) + " corners tell as much as " +
                  fixed_text(fit.independent_corners, 0) + " independent ones; more photos average it away.");
  out +=
      fact("Photos against each other", fixed_text(fit.disagreement, 2),
           "How far photos contradict each other, 1 being what their corners&#39; errors explain. Above 1, everything "
           "is stated less sure by as much.");
  out += fact("Model error", px(fit.model_error_px),
              mm(fit.model_error_px) +
                  ". What this kind of model misses this lens by; more photos do not help. It is added to every "
                  "uncertainty on the bed.");
  const Coverage covered = coverage(fit);
  out += fact("Picture covered", fixed_text(100.0 * (48 - covered.empty()) / 48.0, 0) + "&nbsp;%",
              fit.reaches_corners ? "The model holds to the picture&#39;s corners."
                                  : "The model ends before the picture&#39;s corners: no point is given there.");
  out += fact("Corners used", std::to_string(fit.corner_count),
              "In " + std::to_string(used_photos(fit)) + " of " + std::to_string(fit.photos.size()) + " photos; " +
                  std::to_string(fit.outlier_count) + " single corners left out.");
  if (fit.board_shape) out += sheet_fact(*fit.board_shape);
  return out + "</tbody></table></div>\n";
}

std::string header_row(const std::vector<std::pair<const char*, bool>>& names) {
  std::string out = "<thead role=\"rowgroup\"><tr role=\"row\">";
  for (const auto& [name, number] : names)
    out +=
        std::string("<th role=\"columnheader\" scope=\"col\"") + (number ? " class=\"n\"" : "") + ">" + name + "</th>";
  return out + "</tr></thead>\n";
}

std::string labelled_cell(const char* label, const std::string& markup, const char* css_class = "n") {
  return std::string("<td role=\"cell\" class=\"") + css_class + "\" data-label=\"" + label + "\">" + markup + "</td>";
}

std::string model_row(const LensFit& fit, const ModelTrial& trial) {
  const bool chosen = &trial == chosen_trial(fit);
  std::string out = "<tr role=\"row\" class=\"";
  out += chosen ? "ready" : "empty";
  out += "\"><th role=\"rowheader\" scope=\"row\">";
  out += to_string(trial.model);
  if (chosen) out += " <span class=\"sign\">&#10003;&nbsp;chosen</span>";
  out += "</th>";
  const bool held = trial.held_out_px > 0.0;
  out += labelled_cell("On its own photos", trial.fitted ? px(trial.rms_px) : "&ndash;");
  out += labelled_cell("On photos not seen", held ? px(trial.held_out_px) : "&ndash;");
  out += labelled_cell("In mm", held ? fixed_text(trial.held_out_px * mm_per_px(fit), 3) + "&nbsp;mm" : "&ndash;");
  out += labelled_cell("Against the best", held ? fixed_text(trial.held_out_ratio, 3) + " <small>&plusmn;&nbsp;" +
                                                      fixed_text(trial.held_out_ratio_se, 3) + "</small>"
                                                : "&ndash;");
  return out + labelled_cell("Reason", markup_text(trial.remark), "wide") + "</tr>\n";
}

std::string models(const LensFit& fit) {
  std::string out =
      "<div class=\"scroll\"><table role=\"table\" class=\"spread\">\n<caption>The choice falls on photos that took no "
      "part in the fit: "
      "the smallest model whose error there is within one standard error of the best. Millimetres are those at the "
      "boards&#39; distance; the camera&#39;s page, which pose writes, has them on the bed.</caption>\n" +
      header_row({{"Model", false},
                  {"On its own photos", true},
                  {"On photos not seen", true},
                  {"In mm", true},
                  {"Against the best", true},
                  {"Reason", false}}) +
      "<tbody role=\"rowgroup\">\n";
  for (const ModelTrial& trial : fit.trials) out += model_row(fit, trial);
  return out + "</tbody>\n</table></div>\n";
}

std::string photo_row(const PhotoFit& photo) {
  const auto left_out = photo.used ? std::count(photo.point_used.begin(), photo.point_used.end(), char(0)) : 0;
  std::string out = std::string("<tr role=\"row\" class=\"") + (photo.used ? "ready" : "mismatch") +
                    "\"><th role=\"rowheader\" scope=\"row\">" + markup_text(photo.file) + "</th>";
  out += labelled_cell("State",
                       photo.used ? "<span class=\"sign\">&#10003;&nbsp;used</span>"
                                  : "<span class=\"sign\">&#10005;&nbsp;left out</span>",
                       "state");
  out += labelled_cell("Error", photo.residuals_px.empty() ? "&ndash;" : px(photo.rms_px));
  out += labelled_cell("Corners",
                       photo.points.empty()
                           ? "&ndash;"
                           : std::to_string(photo.points.size()) +
                                 (left_out > 0 ? " <small>" + std::to_string(left_out) + " left out</small>" : ""));
  if (photo.used) {
    const BoardTilt tilt = board_tilt(photo);
    out += labelled_cell(
        "Tilt", fixed_text(tilt.angle_deg, 0) + "&deg; <small>" + to_string(tilt.near_edge) + " edge near</small>");
  } else {
    out += labelled_cell("Tilt", "&ndash;");
  }
  return out + labelled_cell("Reason", markup_text(photo.reason), "wide") + "</tr>\n";
}

std::string photos(const LensFit& fit) {
  std::string out =
      "<div class=\"scroll\"><table role=\"table\" class=\"spread\">\n<caption>Photos left out took no part; the "
      "reason says "
      "why.</caption>\n" +
      header_row(
          {{"Photo", false}, {"State", false}, {"Error", true}, {"Corners", true}, {"Tilt", true}, {"Reason", false}}) +
      "<tbody role=\"rowgroup\">\n";
  for (const PhotoFit& photo : fit.photos) out += photo_row(photo);
  return out + "</tbody>\n</table></div>\n";
}

page::ResidualSet used_residuals(const LensFit& fit) {
  page::ResidualSet set{fit.lens.width_px, fit.lens.height_px, {}, {}};
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    for (std::size_t i = 0; i < photo.points.size(); ++i) {
      if (!photo.point_used[i]) continue;
      set.px.push_back(photo.points[i].px);
      set.residuals_px.push_back(photo.residuals_px[i]);
    }
  }
  return set;
}

}  // namespace

std::string lens_page(const LensFit& fit, const std::vector<std::string>& faults, const CalibrationPageNotes& notes) {
  const std::vector<std::string> advice = next_photos(fit);
  const page::ResidualSet residuals = used_residuals(fit);
  std::string out = page::head("Lens: " + lens_verdict(fit, advice), page::base_style() + page::plot_style());
  out += "<body>\n<main>\n<header>\n" + page::origin_line(notes) + "<h1>" + markup_text(lens_verdict(fit, advice)) +
         "</h1>\n</header>\n" + page::note_list(fit.notes);
  out += "<section aria-labelledby=\"next\"><h2 id=\"next\">The next photo to take</h2>\n" + advice_list(advice) +
         fault_list(faults) + coverage_picture(fit) + "</section>\n";
  out +=
      "<section aria-labelledby=\"trust\"><h2 id=\"trust\">Which number to trust</h2>\n" + lens_facts(fit) +
      "<p class=\"quiet\">What it comes to on the bed, in millimetres at every place, stands on the page that the pose "
      "command writes.</p></section>\n";
  out += "<section aria-labelledby=\"models\"><h2 id=\"models\">Why this model</h2>\n" + models(fit) + "</section>\n";
  out += "<section aria-labelledby=\"photos\"><h2 id=\"photos\">Photo by photo</h2>\n" + photos(fit) + "</section>\n";
  out +=
      "<section aria-labelledby=\"left\"><h2 id=\"left\">What is left over</h2>\n<p class=\"quiet\">Lines in all "
      "directions are noise. Neighbours that point the same way, or a line of means that leaves its zero, are the "
      "model&#39;s error.</p>\n<div class=\"pair\">\n" +
      page::residual_arrows(residuals) + page::residual_by_radius(residuals, fit.lens.principal_px()) +
      "</div></section>\n";
  return out + page::footer(notes);
}

}  // namespace jigtrue
