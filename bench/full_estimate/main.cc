// Averaging, static and dynamic estimate side by side on virtual cars:
//
//   fuelwright_full_estimate score|tune|from CAR [keep FOLDER] [settings] [short]
//
// `score` takes cars 301 to 312, on which nothing was chosen; `tune` cars 101 to 112, on which
// settings were, as on 113 to 124; `from` the twelve from there on, above 100. `keep` keeps computed air and drives in a folder. `settings` searches the settings
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
    } else if (word == "from" && i + 1 < argc && std::atoi(argv[i + 1]) > 100) {
      run.first = static_cast<std::uint64_t>(std::atoi(argv[++i]));
      chosen = true;
    } else if (word == "keep" && i + 1 < argc) {
      run.keep.folder = argv[++i];
    } else if (word == "settings") {
      run.settings = true;
    } else if (word == "short") {
      run.brief = true;
    } else {
      fmt::print(stderr, "what is \"{}\"? score, tune or from CAR, keep FOLDER, settings, short\n", word);
      return 2;
    }
  }
  if (!chosen) {
    fmt::print(stderr, "say score (cars 301 to 312), tune (101 to 112) or from CAR\n");
    return 2;
  }
  if (run.settings) {
    search_averaging(run);
  } else {
    print_report(run);
  }
  return 0;
}
