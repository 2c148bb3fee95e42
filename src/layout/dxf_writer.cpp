#include "layout/dxf_writer.hpp"

#include "jigtrue/base/text.hpp"

#include <cstdio>

namespace jigtrue {

void DxfWriter::pair(int code, const std::string& value) {
  text_ += std::to_string(code);
  text_ += '\n';
  text_ += value;
  text_ += '\n';
}

void DxfWriter::point(int code, const Vector2d& p) {
  number(code, p.x());
  number(code + 10, p.y());
}

void DxfWriter::space(int code, const Vector2d& p) {
  point(code, p);
  number(code + 20, 0.0);
}

void DxfWriter::section(const std::string& name) {
  pair(0, "SECTION");
  pair(2, name);
}

std::string DxfWriter::object(const std::string& kind, const std::string& owner, int handle_code) {
  std::string handle = next_handle();
  pair(0, kind);
  pair(handle_code, handle);
  pair(330, owner);
  return handle;
}

std::string DxfWriter::table(const std::string& name, std::size_t entries) {
  pair(0, "TABLE");
  pair(2, name);
  std::string handle = next_handle();
  pair(5, handle);
  pair(330, "0");
  pair(100, "AcDbSymbolTable");
  pair(70, std::to_string(entries));
  return handle;
}

std::string DxfWriter::record(const std::string& kind, const std::string& table, const std::string& subclass,
                              const std::string& name, int handle_code) {
  std::string handle = object(kind, table, handle_code);
  pair(100, "AcDbSymbolTableRecord");
  pair(100, subclass);
  pair(2, name);
  return handle;
}

std::string DxfWriter::next_handle() {
  char handle[16];
  std::snprintf(handle, sizeof handle, "%X", ++last_handle_);
  return handle;
}

void DxfWriter::number(int code, double value) { pair(code, fixed_text(value, 4)); }

}  // namespace jigtrue
