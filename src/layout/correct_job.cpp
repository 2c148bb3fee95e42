#include "jigtrue/layout/correct_job.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/layout/usable_band.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <set>

#include "layout/drawing_groups.hpp"
#include "layout/svg_edit.hpp"
#include "layout/svg_path.hpp"

namespace jigtrue {
namespace {

using svg::Affine;
using svg::DrawingGroup;
using svg::Edit;
using svg::StartTag;

constexpr double kSameBed_mm = 0.5;
constexpr double kNear_mm = 10.0;
constexpr const char* kMarkOfCorrection = "by jigtrue; start anew from the nominal layout";

Affine rigid(const Vector2d& to, double turn_rad, const Vector2d& from) {
  Affine out = Affine::Identity();
  out.translate(to);
  out.rotate(turn_rad);
  out.translate(Vector2d(-from));
  return out;
}

std::string matrix_text(const Affine& m) {
  std::string out = "matrix(";
  const auto& a = m.matrix();
  for (const double value : {a(0, 0), a(1, 0), a(0, 1), a(1, 1), a(0, 2), a(1, 2)}) {
    if (out.back() != '(') out += ' ';
    out += fixed_text(value, 9);
  }
  return out + ")";
}

class Corrector {
 public:
  Corrector(const std::string& text, const std::string& file, const CheckResult& result,
            const std::optional<Machine>& machine)
      : text_(text), file_(file), machine_(machine) {
    job_.result = result;
    for (std::size_t i = 0; i < result.slots.size(); ++i) {
      const std::string& id = result.slots[i].id;
      slot_of_.emplace(id, i);
      slot_of_id_.emplace(id, i);
      slot_of_id_.emplace("slot-" + id, i);
      slot_of_id_.emplace("slot-" + xml_name(id), i);
    }
  }

  CorrectedJob run() {
    const svg::DrawingGroups drawing = svg::drawing_groups(
        text_, file_, [this](const DrawingGroup& group) { return slot_index(group) || names_a_slot(group); });
    refuse_mismatches(drawing);
    for (const DrawingGroup& group : drawing.groups) refuse_corrected(group);
    page_ = page_of(drawing.page_mm);
    for (const DrawingGroup& group : drawing.groups) refuse_elsewhere(group);
    judge(drawing);
    if (machine_) judge_on_bed(job_.result, *machine_);
    for (const DrawingGroup& group : drawing.groups) correct(group);
    for (const SlotResult& slot : job_.result.slots) {
      if (const auto reason = why_left_out(slot))
        job_.left_out.push_back({slot.id, *reason});
      else
        job_.placed.push_back(slot.id);
    }
    job_.svg = svg::edited(text_, std::move(edits_));
    return std::move(job_);
  }

 private:
  static bool names_a_slot(const DrawingGroup& group) {
    return !group.data_slot.empty() || group.id.starts_with("slot-");
  }

  [[nodiscard]] std::optional<std::size_t> slot_index(const DrawingGroup& group) const {
    const auto& index = group.data_slot.empty() ? slot_of_id_ : slot_of_;
    const auto found = index.find(group.data_slot.empty() ? group.id : group.data_slot);
    if (found == index.end()) return std::nullopt;
    return found->second;
  }

  static std::string name_of(const DrawingGroup& group) {
    return terminal_text(group.data_slot.empty() ? group.id : group.data_slot);
  }

  void refuse_mismatches(const svg::DrawingGroups& drawing) const {
    std::set<std::size_t> held;
    for (const DrawingGroup& group : drawing.groups) {
      const auto slot = slot_index(group);
      // the passes within a slot's own group carry ids that start like it
      if (!slot && group.inside_another && group.data_slot.empty()) continue;
      if (!slot)
        throw input_error(file_, "its group \"" + name_of(group) + "\" belongs to no slot of the report",
                          "mend the id, or check the photo with the fixture that has this slot");
      if (group.inside_another)
        throw input_error(
            file_, "the group of slot " + terminal_text(job_.result.slots[*slot].id) + " lies inside another slot's",
            "let the slots' groups stand side by side");
      if (group.name_at == 0 || group.name_at >= text_.size() || text_[group.name_at - 1] != '<')
        throw input_error(file_, "is not UTF-8 text", "save it as UTF-8");
      held.insert(*slot);
    }
    std::string missing;
    for (std::size_t i = 0; i < job_.result.slots.size(); ++i) {
      if (held.count(i) != 0 || why_left_out(job_.result.slots[i])) continue;
      missing += (missing.empty() ? "" : ", ") + terminal_text(job_.result.slots[i].id);
    }
    if (!missing.empty())
      throw input_error(file_, "holds no group for slot " + missing,
                        "give each slot's group the slot's id (id=\"" + xml_name("slot-" + first_of(missing)) + "\")");
  }

  static std::string first_of(const std::string& list) { return list.substr(0, list.find(',')); }

  [[nodiscard]] Page page_of(const Vector2d& size_mm) const {
    if (!machine_) return {size_mm, Vector2d::Zero()};
    if ((size_mm - machine_->bed_mm).cwiseAbs().maxCoeff() > kSameBed_mm)
      throw input_error(file_,
                        "its page is " + fixed_text(size_mm.x(), 1) + " x " + fixed_text(size_mm.y(), 1) +
                            " mm, the bed " + fixed_text(machine_->bed_mm.x(), 1) + " x " +
                            fixed_text(machine_->bed_mm.y(), 1) + " mm",
                        "draw the layout on a page as large as the bed");
    return {size_mm, machine_->front_left_mm()};
  }

  // A slot's groups are judged by their own ink, as it lies about the slot's nominal place.
  void judge(const svg::DrawingGroups& drawing) {
    std::map<std::size_t, std::vector<InkShape>> shapes;
    for (const DrawingGroup& group : drawing.groups) {
      const auto index = slot_index(group);
      if (!index) continue;
      std::vector<InkShape> own = in_slot(group, job_.result.slots[*index]);
      shapes[*index].insert(shapes[*index].end(), own.begin(), own.end());
    }
    for (auto& [index, own] : shapes) {
      const InkBox ink = ink_of(own);
      job_.art.own[job_.result.slots[index].id] =
          std::make_shared<const std::vector<Pass>>(std::vector<Pass>{{"", std::move(own), std::nullopt}});
      SlotResult& slot = job_.result.slots[index];
      if (ink.empty() || !slot.room) continue;
      const Vector2d size = 2.0 * ink.low.cwiseAbs().cwiseMax(ink.high.cwiseAbs());
      slot.design = DesignBox{size.x(), size.y()};
      judge_design(slot);
    }
  }

  // Along and across (y down) from the slot's nominal design point.
  [[nodiscard]] std::vector<InkShape> in_slot(const DrawingGroup& group, const SlotResult& slot) const {
    const Affine slot_from_page =
        rigid(Vector2d::Zero(), rad_from_deg(slot.nominal_axis_deg), page_.from_bed(slot.nominal_centre_mm));
    std::vector<InkShape> shapes = group.shapes;
    for (InkShape& shape : shapes) {
      for (SubPath& path : shape.outline) path = svg::transformed(path, slot_from_page);
      if (shape.stroke) shape.stroke->pen = slot_from_page.linear() * shape.stroke->pen;
    }
    return shapes;
  }

  void correct(const DrawingGroup& group) {
    const auto index = slot_index(group);
    if (!index) return;
    const SlotResult& slot = job_.result.slots[*index];
    const StartTag tag = svg::start_tag(text_, group.name_at);
    if (why_left_out(slot)) {
      edits_.push_back({group.name_at - 1, svg::element_end(text_, tag), ""});
      return;
    }
    const SlotNumbers& n = *slot.numbers;
    // y runs down on the page, so turns have the other sign
    const Affine move = rigid(page_.from_bed(n.centre_mm), -rad_from_deg(n.axis_deg - slot.nominal_axis_deg),
                              page_.from_bed(slot.nominal_centre_mm));
    const Affine& parent = group.page_from_parent;
    if (!(std::abs(parent.linear().determinant()) > 1e-12))
      throw input_error(file_, "the group of slot " + terminal_text(slot.id) + " is scaled to nothing",
                        "mend its transforms");
    const std::string prefix = matrix_text(parent.inverse() * move * parent);
    // an editor may have taken the mark away, and kept the transform
    if (tag.value_begin != std::string::npos && text_.substr(tag.value_begin).starts_with(prefix))
      throw corrected(slot.id);
    edits_.push_back({tag.name_end, tag.name_end, " data-corrected=\"" + std::string(kMarkOfCorrection) + "\""});
    if (tag.value_begin == std::string::npos)
      edits_.push_back({tag.name_end, tag.name_end, " transform=\"" + prefix + "\""});
    else
      edits_.push_back({tag.value_begin, tag.value_begin, prefix + (tag.value_begin == tag.value_end ? "" : " ")});
  }

  [[nodiscard]] InputError corrected(const std::string& slot_id) const {
    return input_error(file_,
                       "the group of slot " + terminal_text(slot_id) +
                           " is already corrected: it would be moved a second time and miss its blank by as much",
                       "give the layout drawn for the nominal slots, not one that this program wrote");
  }

  void refuse_corrected(const DrawingGroup& group) const {
    const auto index = slot_index(group);
    if (index && group.placed_before) throw corrected(job_.result.slots[*index].id);
  }

  void refuse_elsewhere(const DrawingGroup& group) {
    const auto index = slot_index(group);
    if (!index || why_left_out(job_.result.slots[*index])) return;
    const SlotResult& slot = job_.result.slots[*index];
    const Vector2d nominal = page_.from_bed(slot.nominal_centre_mm);
    if (group.ink.empty()) {
      job_.notes.push_back("Slot " + slot.id + ": its group holds nothing that can be measured; it was moved unseen.");
      return;
    }
    const Vector2d away = (nominal - nominal.cwiseMax(group.ink.low).cwiseMin(group.ink.high)).cwiseAbs();
    if (away.maxCoeff() <= kNear_mm) return;
    const Vector2d centre = group.ink.centre();
    throw input_error(file_,
                      "the artwork of slot " + terminal_text(slot.id) + " lies about page x " +
                          fixed_text(centre.x(), 1) + ", y " + fixed_text(centre.y(), 1) +
                          " mm, its slot's nominal place at " + fixed_text(nominal.x(), 1) + ", " +
                          fixed_text(nominal.y(), 1),
                      "draw the layout for the nominal slots on a page that is the bed; give --machine for its origin");
  }

  const std::string& text_;
  const std::string& file_;
  const std::optional<Machine>& machine_;
  std::map<std::string, std::size_t, std::less<>> slot_of_;
  std::map<std::string, std::size_t, std::less<>> slot_of_id_;
  Page page_;
  std::vector<Edit> edits_;
  CorrectedJob job_;
};

}  // namespace

CorrectedJob correct_job(const std::string& job_svg, const std::string& file_name, const CheckResult& result,
                         const std::optional<Machine>& machine) {
  return Corrector(job_svg, file_name, result, machine).run();
}

}  // namespace jigtrue
