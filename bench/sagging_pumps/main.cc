// Sagging pumps: the computed fuel supply against what virtual cars drive.
//   fuelwright_sagging_pumps [CARS]
#include <fmt/format.h>

#include <cstdlib>

#include "sagging.h"

int main(int argc, char** argv) {
  using namespace fuelwright::bench;
  const int count = argc > 1 ? std::max(1, std::atoi(argv[1])) : 24;
  for (const Pumps pumps : {Pumps::honest, Pumps::worn}) {
    std::vector<SagCar> cars;
    for (int seed = 1; seed <= count; ++seed) {
      auto car = sag_car(seed, pumps);
      if (!car) {
        fmt::print(stderr, "car {}: {}\n", seed, car.error().line());
        return 1;
      }
      cars.push_back(std::move(*car));
    }
    fmt::print("{}\n{}\n", pumps == Pumps::honest ? "Pumps as rated, +-25 %" : "Worn pumps",
               table(cars));
    for (const Which which : {Which::all, Which::sag_seen}) {
      for (const bool by_pull : {false, true}) {
        const SagScore s = score(cars, by_pull, which);
        fmt::print(
            "{}, {}: {} cars, {} points beyond the recorded part; {} with 2 % of the fuel "
            "missing or more, {:.0f} % of these more than 3 %\n  rail rms {:.1f} kPa, in the "
            "interval {:.0f} %; fuel rms {:.2f} %, in the interval {:.0f} %; mixture as driven "
            "rms {:.2f} %\n",
            which == Which::all ? "all cars" : "sag seen in the recorded part",
            by_pull ? "by the pull" : "by the rating", s.cars, s.points, s.sagging,
            100 * s.beyond_three_percent, s.rail_rms_kpa, 100 * s.rail_held, 100 * s.missing_rms,
            100 * s.missing_held, 100 * s.leaner_rms);
      }
    }
    fmt::print("\n");
  }
  return 0;
}
