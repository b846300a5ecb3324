/// Runs the comparison over a set of cars and prints its table.
#pragma once

#include <cstdint>

#include "compare.h"

namespace fuelwright::bench {

struct RunOptions {
  std::uint64_t first = kFirstScoredCar;
  Keep keep;
  bool settings = false;
  bool brief = false;
};

void print_report(const RunOptions& run);
/// Prints rms after 2, 10 and 40 minutes over settings of averaging, best first.
void search_averaging(const RunOptions& run);

}  // namespace fuelwright::bench
