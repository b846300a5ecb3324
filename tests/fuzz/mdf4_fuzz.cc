// Fuzz target: any bytes behind an MDF 4 identification give a recording or one line, whatever the
// answers. Seeds: seeds/mdf4, made by mdf4_seeds.cc.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "signals/recording/recording.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace fuelwright::signals;
  Answers answers;
  answers.afr_constant = 14.7;
  answers.ambient = fuelwright::AbsolutePressure{fuelwright::PressureStep{101325}};
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  const auto read = [&](std::string_view file) {
    const auto r = read_recording(file, "fuzz.mf4", answers);
    if (!r && r.error().line().find('\n') != std::string::npos) std::abort();
    if (!r) return;
    for (const Channel& c : r->channels) {
      if (c.si.size() != r->rows) std::abort();
    }
  };
  read(bytes);
  // What a mutation does to the first bytes would only lead to the reader of text.
  if (!bytes.starts_with("MDF     4") && !bytes.starts_with("UnFinMF 4")) {
    read("MDF     4.10    " + std::string(bytes.substr(size < 16 ? size : 16)));
  }
  return 0;
}
