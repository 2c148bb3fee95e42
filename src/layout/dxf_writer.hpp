// Pairs of a DXF file, with handles given in order.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <cstddef>
#include <string>

namespace jigtrue {

// Why no library writes this: dxflib would put the whole program under the GPL, GDAL's own header says inches
// and brings some 65 packages, dime keeps six digits and leaves out what makes a file of AC1015 one.
//
// Symbol tables and their records, blocks and dictionaries all carry handles and their owners' handles (DXF reference,
// version AC1015). What a file must hold beside its entities: the ezdxf manual, "Minimal DXF content".
class DxfWriter {
 public:
  void pair(int code, const std::string& value);
  void number(int code, double value);  // to 0.0001
  void point(int code, const Vector2d& p);
  void space(int code, const Vector2d& p);
  void section(const std::string& name);
  void end_section() { pair(0, "ENDSEC"); }

  // An object with a handle of its own, owned by another; returns the handle.
  std::string object(const std::string& kind, const std::string& owner, int handle_code = 5);
  std::string table(const std::string& name, std::size_t entries);
  std::string record(const std::string& kind, const std::string& table, const std::string& subclass,
                     const std::string& name, int handle_code = 5);
  void end_table() { pair(0, "ENDTAB"); }
  std::string next_handle();
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
  unsigned last_handle_ = 0xF;
};

}  // namespace jigtrue
