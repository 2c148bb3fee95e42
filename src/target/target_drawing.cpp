#include "jigtrue/target/target_drawing.hpp"

#include "jigtrue/base/text.hpp"

#include <array>
#include <stdexcept>

#include "target/target_parts.hpp"

namespace jigtrue {

namespace {

// Helvetica's advance widths in 1/1000 of the font's size, from space to tilde (Adobe's Core 14 font metrics).
constexpr std::array<int, 95> kHelvetica = {
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333,  278, 278, 556, 556, 556,
    556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667,
    611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667,  611, 722, 667, 944, 667,
    667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556, 556, 278,  556, 556, 222, 222, 500,
    222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500,  500, 334, 260, 334, 584};

std::string number(double value) { return short_number(value, 4); }

std::string svg_box(const FilledBox& box, double sheet_height_mm) {
  const Vector2d size = box.high_mm - box.low_mm;
  std::string out = "<rect x=\"" + number(box.low_mm.x()) + "\" y=\"" + number(sheet_height_mm - box.high_mm.y()) +
                    "\" width=\"" + number(size.x()) + "\" height=\"" + number(size.y()) + "\"";
  if (box.grey > 0.0) {
    const std::string percent = number(100.0 * box.grey) + "%";
    out += " fill=\"rgb(" + percent + "," + percent + "," + percent + ")\"";
  }
  return out + "/>\n";
}

const char* svg_anchor(TextAnchor anchor) {
  if (anchor == TextAnchor::middle) return " text-anchor=\"middle\"";
  return anchor == TextAnchor::end ? " text-anchor=\"end\"" : "";
}

std::string svg_print(const SmallPrint& print, double sheet_height_mm) {
  const std::string x = number(print.at_mm.x());
  const std::string y = number(sheet_height_mm - print.at_mm.y());
  std::string out = "<text x=\"" + x + "\" y=\"" + y + "\" font-size=\"" + number(print.size_mm) + "\"";
  out += svg_anchor(print.anchor);
  if (print.upwards) out += " transform=\"rotate(-90 " + x + " " + y + ")\"";
  return out + ">" + markup_text(print.text) + "</text>\n";
}

constexpr double kPointsPerMm = 72.0 / 25.4;
std::string points(double mm) { return number(mm * kPointsPerMm); }

std::string pdf_string(const std::string& text) {
  std::string out = "(";
  for (const char c : ascii_text(text)) {
    if (c == '(' || c == ')' || c == '\\') out += '\\';
    out += c;
  }
  return out + ")";
}

std::string pdf_box(const FilledBox& box) {
  const Vector2d size = box.high_mm - box.low_mm;
  return points(box.low_mm.x()) + " " + points(box.low_mm.y()) + " " + points(size.x()) + " " + points(size.y()) +
         " re f\n";
}

std::string pdf_print(const SmallPrint& print) {
  const double width = text_width_mm(print.text, print.size_mm);
  const double back = print.anchor == TextAnchor::start ? 0.0 : (print.anchor == TextAnchor::middle ? 0.5 : 1.0);
  const Vector2d along = print.upwards ? Vector2d(0.0, 1.0) : Vector2d(1.0, 0.0);
  const Vector2d start = print.at_mm - back * width * along;
  return "BT /F1 " + points(print.size_mm) + " Tf " + (print.upwards ? "0 1 -1 0 " : "1 0 0 1 ") + points(start.x()) +
         " " + points(start.y()) + " Tm " + pdf_string(print.text) + " Tj ET\n";
}

std::string pdf_content(const TargetDrawing& drawing) {
  std::string out = "0 g\n";
  double grey = 0.0;
  for (const FilledBox& box : drawing.boxes) {
    if (box.grey != grey) out += number(grey = box.grey) + " g\n";
    out += pdf_box(box);
  }
  if (grey != 0.0) out += "0 g\n";
  for (const SmallPrint& print : drawing.print) out += pdf_print(print);
  return out;
}

// Numbers the objects and keeps where each begins, for the table at the file's end.
class PdfFile {
 public:
  void object(const std::string& body) {
    offsets_.push_back(text_.size());
    text_ += std::to_string(offsets_.size()) + " 0 obj\n" + body + "\nendobj\n";
  }
  [[nodiscard]] std::string finish(const std::string& trailer) const {
    const std::string count = std::to_string(offsets_.size() + 1);
    std::string out = text_ + "xref\n0 " + count + "\n0000000000 65535 f \n";
    for (const std::size_t offset : offsets_) {
      const std::string digits = std::to_string(offset);
      out += std::string(10 - digits.size(), '0') + digits + " 00000 n \n";
    }
    return out + "trailer\n<< /Size " + count + " " + trailer + " >>\nstartxref\n" + std::to_string(text_.size()) +
           "\n%%EOF\n";
  }

 private:
  // the second line tells transfer programs that the file is not text
  std::string text_ = "%PDF-1.6\n%\xE2\xE3\xCF\xD3\n";
  std::vector<std::size_t> offsets_;
};

}  // namespace

std::string short_number(double value, int decimals) {
  std::string text = fixed_text(value, decimals);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text;
}

double text_width_mm(const std::string& text, double size_mm) {
  int sum = 0;
  for (const char c : text) {
    if (c < ' ' || c > '~') throw std::logic_error("only printable ASCII can be set: " + ascii_text(text));
    sum += kHelvetica[static_cast<std::size_t>(c - ' ')];
  }
  return size_mm * sum / 1000.0;
}

std::string box_elements(const TargetDrawing& drawing) {
  std::string out;
  for (const FilledBox& box : drawing.boxes) out += svg_box(box, drawing.size_mm.y());
  return out;
}

std::string target_svg(const TargetDrawing& drawing) {
  const std::string width = number(drawing.size_mm.x());
  const std::string height = number(drawing.size_mm.y());
  std::string out =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"" +
      width + "mm\" height=\"" + height + "mm\" viewBox=\"0 0 " + width + " " + height + "\">\n<title>" +
      markup_text(drawing.title) + "</title>\n";
  if (!drawing.description.empty()) out += "<desc>" + markup_text(drawing.description) + "</desc>\n";
  out += "<g fill=\"#000000\" stroke=\"none\" shape-rendering=\"geometricPrecision\">\n";
  out += box_elements(drawing);
  out += "</g>\n";
  if (!drawing.print.empty()) {
    out += "<g fill=\"#000000\" font-family=\"Helvetica,Arial,sans-serif\">\n";
    for (const SmallPrint& print : drawing.print) out += svg_print(print, drawing.size_mm.y());
    out += "</g>\n";
  }
  return out + "</svg>\n";
}

std::string target_pdf(const TargetDrawing& drawing) {
  const std::string content = pdf_content(drawing);
  PdfFile file;
  file.object("<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>");
  file.object("<< /Type /Pages /Kids [3 0 R] /Count 1 >>");
  file.object("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 " + points(drawing.size_mm.x()) + " " +
              points(drawing.size_mm.y()) + "] /Contents 4 0 R /Resources << /Font << /F1 5 0 R >> >> >>");
  file.object("<< /Length " + std::to_string(content.size()) + " >>\nstream\n" + content + "endstream");
  file.object("<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>");
  file.object("<< /Title " + pdf_string(drawing.title) + " /Producer (jigtrue) >>");
  return file.finish("/Root 1 0 R /Info 6 0 R");
}

}  // namespace jigtrue
