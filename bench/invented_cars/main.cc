// Prints, over invented cars, how far the table is off before and after: fuelwright_invented_cars
// [tune]
//
// `tune` uses cars 1 to 12 (on which the noise settings were chosen); without it cars 101 to 112
// are scored.
#include <fmt/format.h>

#include <string_view>

#include "invented_cars.h"

int main(int argc, char** argv) {
  using namespace fuelwright;
  const bool tune = argc > 1 && std::string_view(argv[1]) == "tune";
  const std::uint64_t first = tune ? 1 : 101;
  fmt::print(
      "Mixture error over driven time, %, 12 invented cars {} to {} (static estimate: film and "
      "sensor dynamics "
      "are not modelled)\n",
      first, first + 11);
  fmt::print("{:12} {:>7} {:>8} {:>8} {:>8} {:>8} {:>9} {:>8} {:>10}\n", "way", "minutes", "road",
             "before", "average", "ours", "within 3", "held %", "half-width");
  for (const auto way : {advice::Way::correction, advice::Way::pulse_width}) {
    for (const double minutes : {5.0, 20.0}) {
      for (const bool same : {true, false}) {
        bench::JudgedCar mean;
        for (std::uint64_t car = first; car < first + 12; ++car) {
          const auto j = bench::judge(car, 10 * car, same ? 10 * car : 10 * car + 1, minutes, way);
          mean.before += j.before / 12;
          mean.averaged += j.averaged / 12;
          mean.after += j.after / 12;
          mean.within_3 += j.within_3 / 12;
          mean.held += j.held / 12;
          mean.half_width += j.half_width / 12;
        }
        fmt::print("{:12} {:7.0f} {:>8} {:8.2f} {:8.2f} {:8.2f} {:9.1f} {:8.1f} {:10.2f}\n",
                   advice::name_of(way), minutes, same ? "same" : "another", 100 * mean.before,
                   100 * mean.averaged, 100 * mean.after, 100 * mean.within_3, 100 * mean.held,
                   100 * mean.half_width);
      }
    }
  }
  return 0;
}
