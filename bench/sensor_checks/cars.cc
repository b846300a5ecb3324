#include "cars.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <fstream>
#include <random>
#include <sstream>

#include "base/contract.h"
#include "car/build/sheet_file.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/engine_air.h"
#include "sim/virtual_car/truth_file.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::bench {
namespace {

namespace vc = sim::virtual_car;

struct Kind {
  const char* name;
  double litres;
  int cylinders;
  int duration;
  const char* flow;
  bool throttle;
  int sensors;
};
constexpr std::array<Kind, kGarageKinds> kKinds{{
    {"V8 5.7 l, ports, two sensors", 5.7, 8, 214, "34 lb/h at 43.5 psi", false, 2},
    {"four 2.0 l, ports", 2.0, 4, 205, "24 lb/h at 43.5 psi", false, 1},
    {"V8 6.2 l, ports, big cam", 6.2, 8, 240, "42 lb/h at 43.5 psi", false, 1},
    {"V8 5.0 l, at the throttle", 5.0, 8, 212, "62 lb/h at 43.5 psi", true, 1},
    {"six 3.2 l, ports", 3.2, 6, 208, "26 lb/h at 43.5 psi", false, 1},
    {"four 1.6 l, ports", 1.6, 4, 200, "20 lb/h at 43.5 psi", false, 1},
}};

std::string sheet_text(const Kind& k) {
  std::string text = fmt::format(
      "[engine]\ndisplacement = \"{} l\"\ncylinders = {}\n[cam]\nintake_duration_050 = \"{} deg\"\n"
      "[injection]\narrangement = \"{}\"\nregulator_reference = \"{}\"\ninjector_flow = \"{}\"\n"
      "squirts_per_cycle = 1\nregulator_pressure = \"43.5 psi\"\n[fuel]\nname = \"E10\"\n",
      k.litres, k.cylinders, k.duration, k.throttle ? "throttle" : "ports",
      k.throttle ? "atmosphere" : "manifold", k.flow);
  if (k.throttle) text += "";
  for (int b = 1; b <= k.sensors && k.sensors > 1; ++b) {
    text += fmt::format(
        "[[sensors.mixture]]\nname = \"bank {}\"\nscale = \"afr 14.7\"\nbank = {}\n", b, b);
  }
  return text;
}

std::string read_text(const std::string& path) {
  std::ifstream in(path);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

// Speeds [m/s] for a while each: standing, town, hard to full throttle, motorway, braking.
vc::Cycle cycle_of(std::uint64_t road, double minutes) {
  std::mt19937_64 random(road * 7919 + 17);
  const auto draw = [&](double a, double b) {
    return a + (b - a) * std::uniform_real_distribution<>(0, 1)(random);
  };
  vc::Cycle c{{0, 45}, {0, 0}};
  double t = 45;
  double v = 0;
  const auto go = [&](double to, double rate, double hold) {
    t += std::max(std::abs(to - v) / rate, 0.5);
    c.time_s.push_back(t);
    c.speed_mps.push_back(v = to);
    t += hold;
    c.time_s.push_back(t);
    c.speed_mps.push_back(v);
  };
  int step = 0;
  while (t < minutes * 60) {
    const int what = step++ % 7;
    if (what == 0) go(draw(8, 14), draw(0.8, 1.5), draw(4, 25));
    if (what == 1) go(draw(15, 24), draw(0.8, 1.6), draw(10, 40));
    if (what == 2) go(draw(5, 10), draw(1.0, 1.8), draw(3, 12));
    if (what == 3) go(draw(26, 34), draw(3.5, 6.0), draw(3, 15));  // full throttle
    if (what == 4) go(draw(18, 30), draw(0.6, 1.2), draw(15, 60));
    if (what == 5) go(draw(9, 16), draw(0.9, 1.6), draw(4, 15));
    if (what == 6) go(0, draw(1.2, 2.0), draw(15, 40));
  }
  return c;
}

}  // namespace

GarageCar garage_car(int kind, std::uint64_t seed, const std::string& folder) {
  const Kind& k = kKinds[static_cast<std::size_t>(kind)];
  auto sheet = car::read_sheet(sheet_text(k), "garage.toml");
  if (!sheet.ok()) fmt::print(stderr, "{}\n", sheet.error().line());
  EXPECTS(sheet.ok());
  GarageCar out{k.name, *sheet, {}, {}, seed};
  const std::string path =
      folder.empty() ? "" : fmt::format("{}/car_{}_{}.toml", folder, kind, seed);
  const std::string kept = path.empty() ? "" : read_text(path);
  auto truth = vc::truth_in(kept, "kept.toml", out.sheet, seed);
  EXPECTS(truth.ok());
  out.truth = std::move(*truth);
  if (!out.truth.has_air()) {
    EXPECTS(vc::give_air(out.truth, out.sheet, seed, {.speeds = 12, .pressures = 8}).ok());
    if (!path.empty()) std::ofstream(path) << vc::truth_out(out.truth);
  }
  std::mt19937_64 random(seed * 131 + static_cast<std::uint64_t>(kind));
  out.truth.sensor.gauge_constant = 14.7;
  out.sheet.place.pressure.value =
      out.truth.weather.ambient + std::normal_distribution<>(0, 700)(random) * pascal;
  out.sheet.place.pressure.tolerance = 2.0 * kPa;
  out.found = vc::calibration_as_found(out.truth, out.sheet, seed);
  return out;
}

signals::Recording drive(const GarageCar& car, const Trip& trip) {
  vc::Truth truth = car.truth;
  truth.vehicle.coolant_at_start = trip.cold ? truth.weather.air : celsius(75);
  if (trip.change) trip.change(truth);
  vc::DriveRequest request{.task = cycle_of(trip.road, trip.minutes),
                           .faults = trip.faults,
                           .seed = car.seed * 1000 + trip.road,
                           .length = trip.minutes * minute};
  const auto driven = vc::drive_car(truth, car.sheet, car.found, request);
  if (!driven.ok()) fmt::print(stderr, "{}: {}\n", car.name, driven.error().line());
  EXPECTS(driven.ok());
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(driven->recording, "drive.csv", answers);
  if (!r.ok()) fmt::print(stderr, "{}: {}\n", car.name, r.error().line());
  EXPECTS(r.ok());
  return std::move(*r);
}

advice::CheckedCar told(const GarageCar& car) {
  return {.sheet = car.sheet, .table = car.found.find(car::TableWhat::ve)};
}

}  // namespace fuelwright::bench
