// Prints the held-out table of held_out.h: fuelwright_held_out_air [tune]
//
// `tune` trains and scores on segments 6 to 8 only (where the settings were chosen); without it
// segments 9 to 12 are scored, trained on any other segment.
#include <fmt/format.h>

#include <string_view>

#include "held_out.h"

int main(int argc, char** argv) {
  using namespace fuelwright::bench;
  const bool tune = argc > 1 && std::string_view(argv[1]) == "tune";
  const auto drives = load();
  if (!drives) {
    fmt::print(stderr, "{}\n", drives.error().line());
    return fuelwright::exit_code(drives.error().code);
  }
  const std::vector<int> pool = tune ? std::vector{6, 7, 8} : std::vector{6, 7, 8, 9, 10, 11, 12};
  const std::vector<int> scored = tune ? std::vector{6, 7, 8} : std::vector{9, 10, 11, 12};
  constexpr unsigned kSeeds = 20;
  fmt::print(
      "Error of VE at cells of drives never seen, % (rms of ln VE, weighted by rows); segments "
      "{}\n",
      tune ? "6-8 (tuning)" : "9-12 (scored)");
  fmt::print("{:22} {:>8} {:>8} {:>8} {:>8}\n", "", "5 min", "20 min", "60 min", "all");
  for (const auto c : {Contender::cell_average, Contender::bilinear_average,
                       Contender::plain_smooth, Contender::ours}) {
    std::string held, cells, width;
    fmt::print("{:22}", name_of(c));
    for (const std::size_t block : {60, 240, 720, 0}) {
      const Score s = score(*drives, c, scored, pool, block, kSeeds);
      fmt::print(" {:8.1f}", 100 * s.rms);
      held += fmt::format(" {:8.1f}", 100 * s.held);
      cells += fmt::format(" {:8.1f}", 100 * s.held_cells);
      width += fmt::format(" {:8.1f}", 100 * s.half_width);
    }
    fmt::print("\n");
    if (c != Contender::ours) continue;
    fmt::print("{:22}{}\n{:22}{}\n{:22}{}\n", "  95 % hold, by rows %", held,
               "  95 % hold, by cell %", cells, "  half-width %", width);
  }
  return 0;
}
