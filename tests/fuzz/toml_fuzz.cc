// Fuzz target: any text gives a sheet or one line. Seeds: seeds/toml, the examples and pieces of
// them.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "car/build/sheet_file.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace fuelwright::car;
  const std::string text(reinterpret_cast<const char*>(data), size);
  const auto sheet = read_sheet(text, "fuzz.toml");
  if (sheet) return 0;
  const std::string line = sheet.error().line();
  const bool one = !line.empty() && std::ranges::none_of(line, [](char c) {
    return c == '\n' || c == '\r' || c == '\0';
  });
  if (!one) std::abort();
  return 0;
}
