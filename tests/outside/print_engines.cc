// Prints the tables of outside_engines.h: fuelwright_outside_engines SHEET [members]
//
// SHEET: tests/outside/engine_1900_dohc.toml. The data are where FUELWRIGHT_OUTSIDE_DATA says.
#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <sstream>

#include "bench/outside_engines/outside_engines.h"
#include "rated_cars.h"

using namespace fuelwright;
using namespace fuelwright::bench;

namespace {

int wrong(const Error& e) {
  fmt::print(stderr, "{}\n", e.line());
  return exit_code(e.code);
}

template <class Row, class Member>
Errors errors(const std::vector<Row>& rows, Member predicted, Member measured) {
  std::vector<double> p, m;
  for (const Row& r : rows) {
    p.push_back(r.*predicted);
    m.push_back(r.*measured);
  }
  return errors_of(p, m);
}

void print(const char* what, const Errors& e) {
  fmt::print("{:44} mean {:+6.1f} %   rms {:5.1f} %   sd {:5.1f} %\n", what, 100 * e.mean,
             100 * e.rms, 100 * e.sd);
}

void print_curve(const std::vector<LoadPoint>& curve) {
  fmt::print(
      "Full-load torque of the 1.9-litre twin-cam four [N m]\n{:>6} {:>9} {:>16} {:>16} {:>26}\n",
      "rpm", "measured", "one cylinder", "whole engine", "ensemble 2.5/50/97.5 %");
  int held = 0;
  for (const LoadPoint& p : curve) {
    held += p.held();
    fmt::print(
        "{:6.0f} {:9.1f} {:8.1f} {:+5.1f} % {:8.1f} {:+5.1f} % {:7.0f} {:5.1f} {:+5.1f} % {:4.0f} "
        "{}\n",
        p.rpm, p.measured_nm, p.one_cylinder_nm, 100 * (p.one_cylinder_nm / p.measured_nm - 1),
        p.whole_engine_nm, 100 * (p.whole_engine_nm / p.measured_nm - 1), p.low_nm, p.middle_nm,
        100 * (p.middle_nm / p.measured_nm - 1), p.high_nm, p.held() ? "held" : "missed");
  }
  print("one cylinder", errors(curve, &LoadPoint::one_cylinder_nm, &LoadPoint::measured_nm));
  print("whole engine", errors(curve, &LoadPoint::whole_engine_nm, &LoadPoint::measured_nm));
  print("ensemble, middle", errors(curve, &LoadPoint::middle_nm, &LoadPoint::measured_nm));
  fmt::print("95 % intervals hold {} of {}\n\n", held, curve.size());
}

void print_cars(const std::vector<RatedCar>& cars) {
  fmt::print("Rated brake mean effective pressure of {} cars of 1993 from three numbers each\n",
             cars.size());
  using C = RatedCar;
  print("ours, whole engine", errors(cars, &C::whole_engine_bar, &C::measured_bar));
  print("ours, one cylinder", errors(cars, &C::one_cylinder_bar, &C::measured_bar));
  print("a constant (fitted to these cars)", errors(cars, &C::constant_bar, &C::measured_bar));
  print("a regression on the three (fitted too)",
        errors(cars, &C::regression_bar, &C::measured_bar));
}

}  // namespace

int main(int argc, char** argv) {
  const char* folder = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
  if (argc < 2 || folder == nullptr) {
    fmt::print(
        stderr,
        "usage: FUELWRIGHT_OUTSIDE_DATA=FOLDER fuelwright_outside_engines SHEET [members]\n");
    return 2;
  }
  std::ifstream in(argv[1]);
  std::stringstream text;
  text << in.rdbuf();
  FullLoadSettings settings;
  if (argc > 2) settings.members = std::atoi(argv[2]);
  const auto curve = full_load(folder, text.str(), settings);
  if (!curve) return wrong(curve.error());
  print_curve(*curve);
  const auto cars = rated_cars(folder, outside::sheet_from_rating);
  if (!cars) return wrong(cars.error());
  print_cars(*cars);
  return 0;
}
