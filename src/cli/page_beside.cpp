#include "cli/page_beside.hpp"

#include "jigtrue/base/error.hpp"

namespace jigtrue::cli {

std::filesystem::path page_beside(const std::string& output) {
  std::filesystem::path page = output;
  page.replace_extension(".html");
  if (page == std::filesystem::path(output))
    throw input_error("-o " + output, "that is the name of the page written beside it", "end the file's name in .json");
  return page;
}

}  // namespace jigtrue::cli
