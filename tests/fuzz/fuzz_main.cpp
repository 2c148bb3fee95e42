// libFuzzer's entry: the reader that JIGTRUE_FUZZ_READER names gets the bytes. See run.sh.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include "fuzz/readers.hpp"

namespace {

const jigtrue::fuzz::Reader& chosen() {
  const char* name = std::getenv("JIGTRUE_FUZZ_READER");
  for (const jigtrue::fuzz::Reader& reader : jigtrue::fuzz::readers())
    if (name != nullptr && std::strcmp(name, reader.name) == 0) return reader;
  std::fprintf(stderr, "fuzz: JIGTRUE_FUZZ_READER must name a reader\n");
  std::exit(1);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const jigtrue::fuzz::Reader& reader = chosen();
  (void)reader.take({reinterpret_cast<const char*>(data), size});
  return 0;
}
