// Averaging, static and dynamic estimate side by side on virtual cars:
//
//   fuelwright_full_estimate score|tune [keep FOLDER] [settings] [short]
//
// `score` takes cars 201 to 212, on which nothing was chosen; `tune` cars 101 to 112, on which
// settings were. `keep` keeps computed air and drives in a folder. `settings` searches the settings
// of averaging instead. `short`: 2 and 10 minutes only.
#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <string_view>

#include "report.h"

int main(int argc, char** argv) {
  using namespace fuelwright::bench;
  RunOptions run;
  bool chosen = false;
  for (int i = 1; i < argc; ++i) {
    const std::string_view word = argv[i];
    if (word == "tune" || word == "score") {
      run.first = word == "tune" ? kFirstTuningCar : kFirstScoredCar;
      chosen = true;
    } else if (word == "keep" && i + 1 < argc) {
      run.keep.folder = argv[++i];
    } else if (word == "settings") {
      run.settings = true;
    } else if (word == "short") {
      run.brief = true;
    } else {
      fmt::print(stderr, "what is \"{}\"? score or tune, keep FOLDER, settings, short\n", word);
      return 2;
    }
  }
  if (!chosen) {
    fmt::print(stderr, "say score (cars 201 to 212) or tune (101 to 112)\n");
    return 2;
  }
  if (run.settings) {
    search_averaging(run);
  } else {
    print_report(run);
  }
  return 0;
}
