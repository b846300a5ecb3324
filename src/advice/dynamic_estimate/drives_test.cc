// The drives that this module's tests are made on, and that they are what they are said to be.
#include <gtest/gtest.h>

#include <cmath>

#include "advice/dynamic_estimate/test_drives.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::advice {
namespace {

namespace vc = sim::virtual_car;

// Everything else as the sheet has it.
void make_ideal(vc::Truth& t, const car::Sheet& sheet) {
  *t.air.ve = car::Surface::flat(t.air.ve->grid, 0.88);
  *t.air.residual = car::Surface::flat(t.air.residual->grid, 0.1);
  t.engine.displacement = sheet.engine.displacement.value;
  t.air.level = 1;
  t.air.heating = t.computer.charge_mix = 0;
  t.weather.humidity = 0;
  t.air.cylinders.assign(8, 1.0);
  t.fuel.cylinders.assign(8, 1.0);
  const car::Injection& in = sheet.injection;
  t.fuel.flow =
      MassFlow{in.injector_flow.si() * std::sqrt(sheet.fuel.density.si() / in.rated_density.si())};
  t.fuel.flow_pressure = in.injector_pressure.value;
  t.fuel.regulator = in.regulator_pressure.value;
  t.fuel.density = sheet.fuel.density.value;
  t.fuel.dead_time_per_volt = 0.11 * ms;  // as the unit believes
  t.fuel.dead_time_curvature = t.fuel.droop = 0;
  t.fuel.stoichiometric = sheet.fuel.stoichiometric.si();
  t.film.fast_share = t.film.slow_share = t.film.cold_loss = 0;
  t.sensor.noise = 0.004;
  t.sensor.drift = t.sensor.misfires_per_minute = t.sensor.pressure_error = 0;
  t.sensor.gain = 1;
  t.recorder.map_noise = {};
}

vc::Truth truth_of(const TestCar& c) {
  std::string text = c.truth;
  if (text.find("coolant_at_start") == std::string::npos) {
    text += "vehicle.coolant_at_start_degc = 85\n";
  }
  vc::Truth t = vc::test_truth(c.sheet, text, c.seed);
  if (!c.ideal) return t;
  make_ideal(t, c.sheet);
  if (text.find("dead_time_ms") == std::string::npos) {
    t.fuel.dead_time = 0.845 * ms;  // at 14 V; the sheet's 0.9 ms are at 13.5 V
  }
  return t;
}

vc::Drive driven(const TestCar& c, const vc::DriveRequest& request) {
  auto d = vc::drive_car(truth_of(c), c.sheet, c.calibration, request);
  EXPECTS(d.ok());
  return *d;
}

vc::Drive driven(const TestCar& c, std::uint64_t seed, double minutes, bool keep_truth) {
  return driven(c, {.task = vc::steps_of({8, 14, 11, 20, 25, 17, 29, 22, 13, 5, 16, 9, 0}, 9),
                    .seed = seed,
                    .length = 60 * minutes * second,
                    .keep_truth = keep_truth});
}

signals::Recording read(const std::string& csv) {
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(csv, "drive.csv", answers);
  EXPECTS(r.ok());
  return *r;
}

}  // namespace

car::Sheet v8_sheet() {
  auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 "
      "deg\"\n[injection]\ninjector_flow = \"34 lb/h at 43.5 psi\"\nsquirts_per_cycle = 1\n"
      "regulator_pressure = \"43.5 psi\"\ndead_time = \"0.9 ms\"\n[fuel]\nname = \"E10\"\n"
      "[wishes]\nscale = \"afr 14.7\"\n",
      "invented.toml");
  EXPECTS(sheet.ok());
  return *sheet;
}

TestCar invent(std::uint64_t seed, const std::string& truth) {
  TestCar c{.sheet = v8_sheet(), .seed = seed, .truth = truth, .ideal = false, .calibration = {}};
  c.calibration = vc::calibration_as_found(truth_of(c), c.sheet, seed);
  return c;
}

TestCar ten_percent_lean(const std::string& truth) {
  TestCar c = invent(5, truth);
  c.ideal = true;
  c.drive_with(car::Surface::flat(c.found().grid, 0.80));
  return c;
}

signals::Recording drive(const TestCar& c, std::uint64_t seed, double minutes) {
  return read(driven(c, seed, minutes, false).recording);
}

signals::Recording drive(const TestCar& c, std::uint64_t seed, const car::Plan& plan) {
  return read(driven(c, {.task = plan, .seed = seed}).recording);
}

Judge judge_of(const TestCar& c, std::uint64_t seed, double minutes) {
  const double stoichiometric = truth_of(c).fuel.stoichiometric;
  const std::vector<vc::TrueMoment> t = driven(c, seed, minutes, true).truth;
  Judge j;
  for (std::size_t i = 20; i < t.size(); ++i) {
    const double p = t[i].map.from_zero.si;
    bool steady = p > 32e3;
    for (std::size_t k = i - 20; k < i; ++k) {
      steady = steady && !t[k].cut && std::abs(t[k].map.from_zero.si - p) < 1.5e3;
    }
    if (!steady) continue;
    const double asked = (1 + t[i].correction) * (1 + t[i].enrichment) / t[i].lambda_target;
    j.at.push_back({.speed = t[i].speed, .map = t[i].map});
    j.off.push_back(std::log(t[i].air.si * asked / (stoichiometric * t[i].injected.si)));
  }
  EXPECTS(j.at.size() > 50);
  return j;
}

Score score(const MapEstimate& e, const Judge& j) {
  Score s;
  for (std::size_t i = 0; i < j.at.size(); ++i) {
    const auto here = e.at(j.at[i]);
    const double error = j.off[i] - here.ln;
    s.rms += error * error;
    s.held += std::abs(error) <= 1.959964 * here.sd;
  }
  const auto n = static_cast<double>(j.at.size());
  return {std::sqrt(s.rms / n), s.held / n};
}

DynamicOptions options_for(const car::Sheet& sheet) {
  DynamicOptions o;
  o.dynamics = DynamicsPrior::of(sheet);
  o.instrument_level_sd = {level_sd(Way::pulse_width), level_sd(Way::metered_air)};
  return o;
}

namespace {

TEST(TestDrives, TheIdealCarIsTenPercentLeanAsItsTableIs) {
  // ln(0.88/0.80) = 0.0953, by hand; the judge's air and fuel are those of the car itself.
  const Judge j = judge_of(ten_percent_lean(), 1, 1.5);
  double mean = 0;
  for (const double off : j.off) {
    ASSERT_NEAR(off, 0.0953, 0.02);  // pressure still moves by 1.5 kPa in these moments
    mean += off / static_cast<double>(j.off.size());
  }
  EXPECT_NEAR(mean, 0.0953, 0.003);
}

}  // namespace
}  // namespace fuelwright::advice
