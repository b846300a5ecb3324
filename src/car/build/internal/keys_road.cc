// Sections sensors, car and place: keys, limits and typical values.
// Every typical value here is common practice, no source.
#include "car/build/derived.h"
#include "car/build/internal/bind.h"

namespace fuelwright::car {
namespace {

bool large(const Sheet& s) { return s.engine.displacement.value.in(litre) > 3.5; }

Guess map_low(const Filling&) { return guess(15, 6, "the usual sensor reads from 10 to 20 kPa"); }
Guess map_high(const Filling& f) {
  const double low = f.sheet.sensors.map_low.value.from_zero.in(kPa);
  return guess(low < 95 ? 105 : low + 10, 3, "the usual sensor without boost reads to one bar");
}

Guess unnamed_car(const Filling&) { return guess_text("unnamed car", "no name was given"); }
Guess mass(const Filling& f) {
  const double l = f.sheet.engine.displacement.value.in(litre);
  const double kilos = 850 + 130 * l;
  return guess(kilos, 0.2 * kilos, "cars with such engines, driver included");
}
Guess tyre_radius(const Filling& f) {
  return guess(large(f.sheet) ? 330 : 295, 25, "usual tyres, rolling");
}
// "225/60R15": width in mm, height in % of it, rim in inches. A rolling tyre stands 3.5 % lower
// than a free one (common practice, no source).
std::optional<double> tyre_size(std::string_view text) {
  const auto slash = text.find('/');
  const auto rim_at =
      text.find_first_of("rR", slash == std::string_view::npos ? text.size() : slash);
  if (slash == std::string_view::npos || rim_at == std::string_view::npos) return std::nullopt;
  auto aspect_end = rim_at;
  if (aspect_end > slash && (text[aspect_end - 1] == 'Z' || text[aspect_end - 1] == 'z'))
    --aspect_end;
  const auto width = parse_double(text.substr(0, slash));
  const auto aspect = parse_double(text.substr(slash + 1, aspect_end - slash - 1));
  const auto rim = parse_double(text.substr(rim_at + 1));
  if (!width || !aspect || !rim) return std::nullopt;
  constexpr double kRolling = 0.965;
  return kRolling * (*rim * inch.factor / 2 + *width * 1e-3 * *aspect / 100);
}

Guess axle(const Filling& f) {
  if (large(f.sheet)) return guess(3.4, 0.5, "large engines drive 2.9 to 3.9");
  return guess(4.0, 0.5, "small engines drive 3.5 to 4.5");
}
Guess gears(const Filling& f) {
  if (large(f.sheet))
    return guess_list({2.85, 1.85, 1.35, 1.0}, 0.15, "four-speed gearboxes of such cars");
  return guess_list({3.6, 2.05, 1.35, 1.0, 0.8}, 0.12, "five-speed gearboxes of such cars");
}
Guess drag(const Filling& f) {
  if (large(f.sheet)) return guess(0.42, 0.08, "older large cars: 0.35 to 0.50");
  return guess(0.34, 0.05, "small cars: 0.29 to 0.39");
}
Guess frontal_area(const Filling& f) {
  return guess(large(f.sheet) ? 2.15 : 2.05, 0.2, "passenger cars: 1.8 to 2.4 m2");
}
Guess rolling_resistance(const Filling&) {
  return guess(0.013, 0.003, "road tyres: 1 to 1.6 % of the weight");
}

Guess altitude(const Filling&) { return guess(150, 300, "most people live below 500 m"); }
Guess pressure(const Filling& f) {
  const double kpa = standard_pressure(f.sheet.place.altitude.value).from_zero.in(kPa);
  const double spread =
      2 + 0.0115 * f.sheet.place.altitude.tolerance.si;  // weather, and the altitude's own spread
  const char* rule = "standard atmosphere at the altitude, and the weather's spread";
  return f.has("place.altitude") ? computed(kpa, spread, rule) : guess(kpa, spread, rule);
}
Guess temperature(const Filling&) { return guess(20, 12, "temperate places, spring to autumn"); }

Guess sensor_name(const Filling&) { return guess_text("mixture", "no name was given"); }
Guess sensor_cylinders(const Filling& f) {
  std::vector<double> all;
  for (int i = 1; i <= f.sheet.engine.cylinders.value; ++i) all.push_back(i);
  return guess_list(all, 0, "nothing was said: it is taken to see every cylinder");
}
Guess sensor_bank(const Filling&) {
  return guess(0, 0, "nothing was said: it is taken to see all banks");
}
Guess sensor_distance(const Filling&) {
  return guess(0.9, 0.5, "sensors sit 0.4 to 1.4 m behind the valves");
}

}  // namespace

std::span<const Key> road_keys() {
  using namespace bind;
  constexpr auto kSensors = &Sheet::sensors;
  constexpr auto kCar = &Sheet::car;
  constexpr auto kPlace = &Sheet::place;
  static const Key kKeys[] = {
      {.section = "sensors",
       .key = "map_low",
       .about = "lowest pressure the MAP sensor reads",
       .at = number<kSensors, &Sensors::map_low>(),
       .kind = Kind::absolute_pressure,
       .unit = "kPa",
       .low = 0,
       .high = 100,
       .tolerance = {.step = 1},
       .typical = map_low},
      {.section = "sensors",
       .key = "map_high",
       .about = "highest pressure the MAP sensor reads",
       .at = number<kSensors, &Sensors::map_high>(),
       .kind = Kind::absolute_pressure,
       .unit = "kPa",
       .low = 90,
       .high = 700,
       .tolerance = {.step = 1},
       .typical = map_high},
      {.section = "car",
       .key = "name",
       .about = "what you call it",
       .at = text<kCar, &Car::name>(),
       .typical = unnamed_car},
      {.section = "car",
       .key = "mass",
       .about = "ready to drive, with driver",
       .at = number<kCar, &Car::mass>(),
       .kind = Kind::mass,
       .unit = "kg",
       .low = 150,
       .high = 20000,
       .tolerance = {.share = 0.03},
       .typical = mass},
      {.section = "car",
       .key = "tyre_radius",
       .about = "rolling radius of a driven tyre, or its size (225/60R15)",
       .at = number<kCar, &Car::tyre_radius>(),
       .kind = Kind::length,
       .unit = "mm",
       .low = 150,
       .high = 700,
       .tolerance = {.share = 0.02},
       .typical = tyre_radius,
       .other_form = tyre_size},
      {.section = "car",
       .key = "axle",
       .about = "final drive ratio",
       .at = number<kCar, &Car::axle>(),
       .kind = Kind::ratio,
       .low = 1,
       .high = 12,
       .tolerance = {.share = 0.005},
       .typical = axle},
      {.section = "car",
       .key = "gears",
       .about = "gear ratios, first gear first",
       .at = numbers<kCar, &Car::gears>(),
       .kind = Kind::ratio,
       .low = 0.3,
       .high = 9,
       .tolerance = {.share = 0.005},
       .typical = gears},
      {.section = "car",
       .key = "drag",
       .about = "drag coefficient",
       .at = number<kCar, &Car::drag>(),
       .kind = Kind::ratio,
       .low = 0.1,
       .high = 1.5,
       .tolerance = {.share = 0.05},
       .typical = drag},
      {.section = "car",
       .key = "frontal_area",
       .about = "seen from the front",
       .at = number<kCar, &Car::frontal_area>(),
       .kind = Kind::area,
       .unit = "m2",
       .low = 0.5,
       .high = 10,
       .tolerance = {.share = 0.05},
       .typical = frontal_area,
       .us = "sq ft"},
      {.section = "car",
       .key = "rolling_resistance",
       .about = "share of the weight",
       .at = number<kCar, &Car::rolling_resistance>(),
       .kind = Kind::ratio,
       .low = 0.003,
       .high = 0.08,
       .tolerance = {.share = 0.1},
       .typical = rolling_resistance},
      {.section = "place",
       .key = "altitude",
       .about = "above the sea",
       .at = number<kPlace, &Place::altitude>(),
       .kind = Kind::length,
       .unit = "m",
       .low = -400,
       .high = 5000,
       .tolerance = {.step = 50},
       .typical = altitude,
       .us = "ft"},
      {.section = "place",
       .key = "pressure",
       .about = "air pressure at the place itself, not reduced to sea level",
       .at = number<kPlace, &Place::pressure>(),
       .kind = Kind::absolute_pressure,
       .unit = "kPa",
       .low = 45,
       .high = 112,
       .tolerance = {.step = 0.5},
       .typical = pressure},
      {.section = "place",
       .key = "temperature",
       .about = "ambient air",
       .at = number<kPlace, &Place::temperature>(),
       .kind = Kind::temperature,
       .unit = "degC",
       .low = -50,
       .high = 60,
       .tolerance = {.step = 3},
       .typical = temperature},
  };
  return kKeys;
}

std::span<const Key> sensor_keys() {
  using namespace bind;
  static const Key kKeys[] = {
      {.section = "sensors.mixture",
       .key = "name",
       .about = "what you call it",
       .at = text_at<InSensor<&MixtureSensor::name>>(),
       .typical = sensor_name},
      {.section = "sensors.mixture",
       .key = "scale",
       .about = "what its numbers mean: lambda, afr 14.7 (its own constant), equivalence",
       .at = scale_at<InSensor<&MixtureSensor::scale>>(),
       .check_text = known_scale},
      {.section = "sensors.mixture",
       .key = "cylinders",
       .about = "those whose exhaust it sees",
       .at = numbers_at<InSensor<&MixtureSensor::cylinders>>(),
       .kind = Kind::count,
       .low = 1,
       .high = 16,
       .typical = sensor_cylinders},
      {.section = "sensors.mixture",
       .key = "bank",
       .about = "bank it sees, 0 for all",
       .at = number_at<InSensor<&MixtureSensor::bank>>(),
       .kind = Kind::count,
       .low = 0,
       .high = 4,
       .typical = sensor_bank},
      {.section = "sensors.mixture",
       .key = "distance",
       .about = "along the pipe from the exhaust valves",
       .at = number_at<InSensor<&MixtureSensor::distance>>(),
       .kind = Kind::length,
       .unit = "m",
       .low = 0.02,
       .high = 8,
       .tolerance = {.share = 0.1},
       .typical = sensor_distance},
  };
  return kKeys;
}

}  // namespace fuelwright::car
