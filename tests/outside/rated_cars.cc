#include "rated_cars.h"

#include <fmt/format.h>

#include <algorithm>

#include "car/build/sheet_file.h"

namespace fuelwright::outside {
namespace {

constexpr double kFourValvesAbove_rpm = 5400;

double intake_duration(double rated_rpm) {
  if (rated_rpm > kFourValvesAbove_rpm)
    return std::clamp(200 + 0.016 * (rated_rpm - 5000), 195.0, 245.0);
  return std::clamp(195 + 0.025 * (rated_rpm - 4400), 185.0, 245.0);
}

double runner_mm(double rated_rpm) { return std::clamp(84'000 * 25.4 / rated_rpm, 250.0, 500.0); }

}  // namespace

std::string sheet_text_from_rating(int cylinders, Volume displacement, EngineSpeed rated) {
  return fmt::format(
      "[engine]\ncylinders = {}\ndisplacement = \"{:.4f} l\"\n"
      "[heads]\nvalves_per_cylinder = {}\n"
      "[cam]\nintake_duration_050 = \"{:.1f} deg +- 8 deg\"\n"
      "[intake]\nrunner_length = \"{:.0f} mm +- 25 %\"\n"
      "[exhaust]\nprimary_length = \"350 mm +- 200 mm\"\nback_pressure = \"25 kPa +- 15 kPa\"\n"
      "[injection]\ninjector_flow = \"30 lb/h at 43.5 psi\"\n"  // the air does not depend on it
      "[fuel]\nname = \"petrol\"\n"
      "[place]\npressure = \"99 kPa\"\ntemperature = \"25 degC\"\n"
      "[wishes]\nrev_limit = \"{:.0f} rpm\"\n",
      cylinders, displacement.in(litre), rated.rpm > kFourValvesAbove_rpm ? 4 : 2,
      intake_duration(rated.rpm), runner_mm(rated.rpm), 1.08 * rated.rpm);
}

Result<car::Sheet> sheet_from_rating(int cylinders, Volume displacement, EngineSpeed rated) {
  return car::read_sheet(sheet_text_from_rating(cylinders, displacement, rated), "rating");
}

}  // namespace fuelwright::outside
