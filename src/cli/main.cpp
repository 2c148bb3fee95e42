#include "cli/run.hpp"

#include <iostream>
#include <string>
#include <vector>

int main(int argc, char** argv) {
  const std::vector<std::string> arguments(argv + (argc > 0 ? 1 : 0), argv + argc);
  const int status = jigtrue::cli::run(arguments, std::cout, std::cerr);
  // an answer that nobody gets is no success
  if (!std::cout.flush() && status != 2) {
    std::cerr << "jigtrue: the answer could not be printed (a full disk, a closed output); files named with -o are "
                 "written all the same\n";
    return 2;
  }
  return status;
}
