#include "cars.h"

#include <fmt/format.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <sstream>

#include "car/build/sheet_file.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/engine_air.h"
#include "sim/virtual_car/truth_file.h"

namespace fuelwright::bench {
namespace {

namespace vc = sim::virtual_car;

struct Kind {
  const char* name;
  bool wet;
  bool big_cam;
  bool automatic;
  const char* sheet;
};

constexpr const char* kRest = R"(
[fuel]
name = "E10"
)";
constexpr std::array<Kind, 8> kKinds{{
    {"V8 5.7 l, ports, automatic", false, false, true, R"(
[engine]
cylinders = 8
displacement = "5.7 l"
[cam]
intake_duration_050 = "212 deg"
[injection]
injector_flow = "30 lb/h at 43.5 psi"
arrangement = "ports"
[[sensors.mixture]]
name = "left bank"
scale = "afr 14.7"
cylinders = [1, 3, 5, 7]
bank = 1
distance = "40 in"
[car]
mass = "3800 lb"
axle = 3.08
[wishes]
scale = "afr 14.7"
idle_mixture = 13.6
cruise_mixture = 14.4
full_throttle_mixture = 12.7
)"},
    {"four 2.0 l, ports", false, false, false, R"(
[engine]
cylinders = 4
displacement = "1.998 l"
[heads]
valves_per_cylinder = 4
[cam]
intake_duration_050 = "206 deg"
[injection]
injector_flow = "290 cc/min at 3 bar"
arrangement = "ports"
[[sensors.mixture]]
name = "collector"
scale = "afr 14.7"
bank = 0
distance = "30 in"
[car]
mass = "1250 kg"
[wishes]
scale = "afr 14.7"
idle_mixture = 14.0
cruise_mixture = 14.5
full_throttle_mixture = 12.8
)"},
    {"V8 5.0 l, wet, automatic", true, false, true, R"(
[engine]
cylinders = 8
displacement = "5.0 l"
[cam]
intake_duration_050 = "208 deg"
[intake]
arrangement = "two_plane"
[injection]
injector_count = 4
injector_flow = "60 lb/h at 43.5 psi"
arrangement = "throttle"
regulator_reference = "atmosphere"
squirts_per_cycle = 4
[[sensors.mixture]]
name = "behind the meeting"
scale = "afr 14.7"
bank = 0
distance = "70 in"
[car]
mass = "3600 lb"
axle = 3.23
[wishes]
scale = "afr 14.7"
idle_mixture = 13.4
cruise_mixture = 14.0
full_throttle_mixture = 12.5
)"},
    {"V8 6.2 l, ports, big cam", false, true, false, R"(
[engine]
cylinders = 8
displacement = "6.2 l"
compression = "10.2"
[cam]
intake_duration_050 = "236 deg"
exhaust_duration_050 = "242 deg"
lobe_separation = "110 deg"
[injection]
injector_flow = "42 lb/h at 43.5 psi"
arrangement = "ports"
[[sensors.mixture]]
name = "left bank"
scale = "afr 14.7"
cylinders = [1, 3, 5, 7]
bank = 1
distance = "36 in"
[car]
mass = "3500 lb"
axle = 3.73
[wishes]
scale = "afr 14.7"
idle_mixture = 13.2
cruise_mixture = 14.0
full_throttle_mixture = 12.6
idle_speed = "950 rpm"
)"},
    {"four 1.3 l, ports", false, false, false, R"(
[engine]
cylinders = 4
displacement = "1.3 l"
[cam]
intake_duration_050 = "202 deg"
[injection]
injector_flow = "170 cc/min at 3 bar"
arrangement = "ports"
[[sensors.mixture]]
name = "collector"
scale = "afr 14.7"
bank = 0
distance = "0.6 m"
[car]
mass = "920 kg"
[wishes]
scale = "afr 14.7"
idle_mixture = 14.0
cruise_mixture = 14.6
full_throttle_mixture = 12.9
)"},
    {"six 3.2 l in line, wet", true, false, false, R"(
[engine]
cylinders = 6
banks = 1
displacement = "3.2 l"
[cam]
intake_duration_050 = "206 deg"
[injection]
injector_count = 2
injector_flow = "70 lb/h at 43.5 psi"
arrangement = "throttle"
regulator_reference = "atmosphere"
squirts_per_cycle = 3
[[sensors.mixture]]
name = "down pipe"
scale = "afr 14.7"
bank = 0
distance = "45 in"
[car]
mass = "1450 kg"
[wishes]
scale = "afr 14.7"
idle_mixture = 13.6
cruise_mixture = 14.1
full_throttle_mixture = 12.6
)"},
    {"V6 3.8 l, ports, automatic", false, false, true, R"(
[engine]
cylinders = 6
banks = 2
displacement = "3.8 l"
[cam]
intake_duration_050 = "204 deg"
[injection]
injector_flow = "26 lb/h at 43.5 psi"
arrangement = "ports"
[[sensors.mixture]]
name = "left"
scale = "afr 14.7"
cylinders = [1, 3, 5]
bank = 1
distance = "35 in"
[[sensors.mixture]]
name = "right"
scale = "afr 14.7"
cylinders = [2, 4, 6]
bank = 2
distance = "35 in"
[car]
mass = "3400 lb"
axle = 3.06
[wishes]
scale = "afr 14.7"
idle_mixture = 13.9
cruise_mixture = 14.4
full_throttle_mixture = 12.7
)"},
    {"four 1.8 l, ports, big cam", false, true, false, R"(
[engine]
cylinders = 4
displacement = "1.8 l"
compression = "10.8"
[heads]
valves_per_cylinder = 4
[cam]
intake_duration_050 = "232 deg"
exhaust_duration_050 = "232 deg"
lobe_separation = "108 deg"
[injection]
injector_flow = "340 cc/min at 3 bar"
arrangement = "ports"
[[sensors.mixture]]
name = "collector"
scale = "afr 14.7"
bank = 0
distance = "0.8 m"
[car]
mass = "980 kg"
axle = 4.1
[wishes]
scale = "afr 14.7"
idle_mixture = 13.4
cruise_mixture = 14.1
full_throttle_mixture = 12.7
idle_speed = "1000 rpm"
rev_limit = "7200 rpm"
)"},
}};

constexpr const char* kCycles[] = {"town.csv", "country.csv", "motorway.csv", "brisk.csv"};
const Temperature kWarm = celsius(82);  // the coolant when a recording begins

[[noreturn]] void give_up(const Error& error) {
  fmt::print(stderr, "{}\n", error.line());
  std::exit(1);
}

template <class T>
T or_give_up(Result<T> result) {
  if (!result.ok()) give_up(result.error());
  return std::move(*result);
}

std::string slurp(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) give_up({ErrorCode::not_found, path, "cannot be read"});
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace

std::string Keep::text(const std::string& name, const std::function<std::string()>& make) const {
  if (folder.empty()) return make();
  const std::string path = folder + "/" + name;
  if (std::filesystem::exists(path)) return slurp(path);
  std::filesystem::create_directories(folder);
  const std::string text = make();
  std::ofstream(path + ".part", std::ios::binary) << text;
  std::filesystem::rename(path + ".part", path);  // whole, or not there
  return text;
}

TestCar test_car(std::uint64_t number, const Keep& keep) {
  const Kind& kind = kKinds[(number - 1) % 100 % kKinds.size()];
  TestCar out{number, kind.name, kind.wet, kind.big_cam, {}, {}, {}};
  const std::string name = fmt::format("car {}", number);
  out.sheet = or_give_up(car::read_sheet(std::string(kind.sheet) + kRest, name));
  const auto make = [&] {
    const std::string draws = fmt::format("[vehicle]\nautomatic = {}\n", kind.automatic);
    vc::Truth truth = or_give_up(vc::truth_in(draws, name, out.sheet, number));
    const Status air = vc::give_air(truth, out.sheet, number);
    if (!air.ok()) give_up(air.error());
    return vc::truth_out(truth);
  };
  const std::string text = keep.text(fmt::format("car_{}.toml", number), make);
  out.truth = or_give_up(vc::truth_in(text, name, out.sheet, number));
  out.truth.vehicle.coolant_at_start = kWarm;
  out.found = vc::calibration_as_found(out.truth, out.sheet, number);
  return out;
}

vc::Truth with_true_sensor(vc::Truth truth) {
  truth.sensor.gain = 1;
  truth.sensor.pressure_error = 0;
  return truth;
}

vc::Truth another_day(vc::Truth truth, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto uniform = [&](double low, double high) {
    return low + (high - low) * static_cast<double>(random() >> 11) / 9007199254740992.0;
  };
  truth.weather.ambient = truth.weather.ambient + uniform(-1.5, 1.5) * kPa;
  truth.weather.air = truth.weather.air + TemperatureStep{uniform(-12, 12)};
  truth.weather.humidity = uniform(0.2, 0.9);
  return truth;
}

vc::Cycle ordinary_driving(std::uint64_t car) {
  vc::Cycle all;
  for (std::size_t i = 0; i < std::size(kCycles); ++i) {
    const std::string name = kCycles[(i + car) % std::size(kCycles)];
    const std::string path = fmt::format("{}/{}", FUELWRIGHT_CYCLES, name);
    const vc::Cycle one = or_give_up(vc::read_cycle(slurp(path), name));
    const double from = all.time_s.empty() ? 0.0 : all.time_s.back() + 1;
    for (std::size_t k = 0; k < one.time_s.size(); ++k) {
      all.time_s.push_back(from + one.time_s[k]);
      all.speed_mps.push_back(one.speed_mps[k]);
    }
  }
  return all;
}

car::Plan pulls(const TestCar& car) {
  const EngineSpeed limit = car.sheet.wishes.rev_limit.value;
  const EngineSpeed from{limit.rpm / 3};
  const EngineSpeed until{0.95 * limit.rpm};
  car::Plan plan;
  for (int i = 0; i < 4; ++i) {
    const int gear = i % 2 == 0 ? 2 : 3;
    plan.steps.push_back(car::hold_at(from, gear, 8.0 * second));
    plan.steps.push_back(car::sweep(from, until, gear));
    plan.steps.push_back(car::coast(until, EngineSpeed{1.1 * from.rpm}, gear));
  }
  return plan;
}

std::string recorded(const TestCar& car, const vc::Truth& truth,
                     const std::variant<vc::Cycle, car::Plan>& task, std::uint64_t seed,
                     Duration length) {
  const vc::DriveRequest request{.task = task, .seed = seed, .length = length};
  return or_give_up(vc::drive_car(truth, car.sheet, car.found, request)).recording;
}

}  // namespace fuelwright::bench
