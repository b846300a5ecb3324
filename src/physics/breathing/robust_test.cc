// Whatever stands on a sheet, the answer is one clear line or a node with sound numbers; nothing
// hangs.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "car/build/sheet_file.h"
#include "physics/breathing/breathing.h"
#include "physics/breathing/internal/parts.h"
#include "physics/breathing/random_sheet.h"

namespace fuelwright::physics {
namespace {

constexpr std::size_t kLanes = 16;
constexpr std::size_t kLongestLine = 400;  // what still is one line to a person

void expect_one_line(const Error& e, const std::string& about) {
  const std::string line = e.line();
  EXPECT_FALSE(line.empty()) << about;
  EXPECT_LT(line.size(), kLongestLine) << about;
  EXPECT_EQ(std::count_if(line.begin(), line.end(),
                          [](char c) { return static_cast<unsigned char>(c) < 0x20; }),
            0)
      << about << ": " << line;
  EXPECT_FALSE(e.where.empty()) << about << ": " << line;
}

// A model, or nothing after checking that the refusal is one line.
std::optional<EngineModel> model_or_line(const std::string& text, const std::string& about) {
  const auto sheet = car::read_sheet(text, "sheet.toml");
  if (!sheet.ok()) {
    expect_one_line(sheet.error(), about);
    return {};
  }
  auto model = engine_model(*sheet);
  if (!model.ok()) {
    expect_one_line(model.error(), about);
    return {};
  }
  return *model;
}

// Every number finite and of an engine; what is unreachable says nothing more than that.
void expect_sound(const AirNode& n, const std::string& about) {
  for (const double x :
       {n.ve, n.residual, n.short_circuit, n.trapped_air.si, n.trapped.si,
        n.charge_pressure.from_zero.si, n.charge_temperature.from_zero.si, n.closing.degrees(),
        n.pumping.si, n.indicated.si, n.exhaust.from_zero.si, n.cylinder_spread}) {
    ASSERT_TRUE(std::isfinite(x)) << about;
  }
  EXPECT_GE(n.ve, 0) << about;
  EXPECT_LT(n.ve, 3) << about;
  EXPECT_GT(n.residual, -0.01) << about;
  EXPECT_LT(n.residual, 1.01) << about;
  EXPECT_GE(n.short_circuit, 0) << about;
  EXPECT_LE(n.short_circuit, 1) << about;
  if (!n.reachable) return;
  EXPECT_GT(n.trapped.si, 0) << about;
  EXPECT_GT(n.charge_temperature.from_zero.si, 150) << about;
  EXPECT_LT(n.charge_temperature.from_zero.si, 1500) << about;
  EXPECT_GT(n.exhaust.from_zero.si, 150) << about;
  EXPECT_LT(n.exhaust.from_zero.si, 4000) << about;
}

// Engines whose lanes may be computed together, each with the seed of its sheet.
struct Fleet {
  std::vector<EngineModel> models;
  std::vector<std::uint64_t> seeds;
};
using Layout = std::tuple<int, std::vector<int>, std::vector<int>>;
std::map<Layout, Fleet> by_layout(std::uint64_t first, std::uint64_t sheets, std::size_t most) {
  std::map<Layout, Fleet> out;
  std::size_t found = 0;
  for (std::uint64_t seed = first; seed < first + sheets && found < most; ++seed) {
    const auto wildness = seed % 5 == 0  ? Wildness::sensible
                          : seed % 5 < 3 ? Wildness::limits
                                         : Wildness::hostile;
    auto model = model_or_line(random_sheet_text(seed, wildness), fmt::format("seed {}", seed));
    if (seed % 5 == 0) {
      EXPECT_TRUE(model.has_value()) << "seed " << seed;
    }
    if (!model) continue;
    const auto& p = model->parts();
    Fleet& fleet = out[{p.cylinders, p.bank, p.plenum}];
    fleet.models.push_back(*model);
    fleet.seeds.push_back(seed);
    ++found;
  }
  return out;
}

Surroundings anywhere(random_sheet::Dice& dice) {
  Surroundings out;
  out.ambient = absolute(dice.between(50e3, 108e3) * pascal);
  out.intake_air = celsius(dice.between(-40, 90));
  return out;
}

// As many cycles as a grown engine needs at most to say whether it settles.
TEST(Robust, TenThousandRandomSheetsEndInOneLineOrInASoundNode) {
  random_sheet::Dice dice(77);
  std::size_t engines = 0, reachable = 0;
  for (const auto& [layout, fleet] : by_layout(0, 10'000, 10'000)) {
    for (std::size_t i = 0; i < fleet.models.size(); i += kLanes) {
      const std::size_t n = std::min(kLanes, fleet.models.size() - i);
      const double speed = dice.by_scale(200, 12'000), pressure = dice.by_scale(10e3, 400e3);
      const auto maps = air_maps({&fleet.models[i], n},
                                 {{rpm(speed)}, {absolute(pressure * pascal)}, anywhere(dice)},
                                 {.most_cycles = 10});
      for (std::size_t k = 0; k < n; ++k) {
        const AirNode& node = maps[k].node(0, 0);
        expect_sound(node, fmt::format("seed {} at {:.0f} rpm, {:.0f} Pa", fleet.seeds[i + k],
                                       speed, pressure));
        EXPECT_LE(node.cycles, 10);
        ++engines;
        reachable += node.reachable;
      }
    }
  }
  EXPECT_GT(engines, 3000);               // the sheets are no mere nonsense
  EXPECT_GT(reachable, 2 * engines / 3);  // nor are the engines
}

TEST(Robust, TwoHundredRandomEnginesGoThroughAWholeMap) {
  const MapPlaces places{
      {rpm(500), rpm(900), rpm(1500), rpm(2500), rpm(3500), rpm(5000), rpm(7000), rpm(10'000)},
      {absolute(20 * kPa), absolute(40 * kPa), absolute(60 * kPa), absolute(80 * kPa),
       absolute(100 * kPa), absolute(220 * kPa)},
      {absolute(100 * kPa), celsius(35)}};
  std::size_t engines = 0;
  for (const auto& [layout, fleet] : by_layout(20'000, 2000, 200)) {
    for (std::size_t k = 0; k < fleet.models.size(); ++k) {
      const AirMap map = air_map(fleet.models[k], places, {.most_cycles = 12});
      for (const AirNode& node : map.nodes)
        expect_sound(node, fmt::format("seed {} at {:.0f} rpm, {:.0f} kPa", fleet.seeds[k],
                                       node.speed.rpm, node.map.from_zero.in(kPa)));
      ++engines;
    }
  }
  EXPECT_EQ(engines, 200);
}

std::string sheet_with(const std::string& engine, const std::string& rest,
                       const std::string& cam = "") {
  return fmt::format(
      "[engine]\n{}\n[cam]\n{}\n[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname "
      "= \"petrol\"\n{}\n",
      engine, cam.empty() ? "intake_duration_050 = \"214 deg\"" : cam, rest);
}
const char* const kFour = "displacement = \"2.0 l\"\ncylinders = 4";

void expect_refused(const std::string& text, const char* names) {
  const auto sheet = car::read_sheet(text, "sheet.toml");
  std::optional<Error> error;
  if (!sheet.ok()) error = sheet.error();
  if (sheet.ok()) {
    const auto model = engine_model(*sheet);
    ASSERT_FALSE(model.ok()) << "accepted: " << names;
    error = model.error();
  }
  expect_one_line(*error, names);
  EXPECT_NE(error->line().find(names), std::string::npos) << error->line();
}

TEST(Robust, SheetsOfNoEngineAreRefusedNamingTheKey) {
  const std::string four = kFour;
  expect_refused(sheet_with(four + "\nbore = \"20 mm\"", ""), "engine.bore");
  expect_refused(sheet_with(four + "\ncompression = 40", ""), "engine.compression");
  expect_refused(sheet_with(four + "\ncompression = nan", ""), "engine.compression");
  expect_refused(sheet_with("displacement = nan\ncylinders = 4", ""), "engine.displacement");
  expect_refused(sheet_with(four, "[intake]\nrunner_length = \"-300 mm\""), "intake.runner_length");
  expect_refused(sheet_with(four, "[intake]\nrunner_length = \"nan mm\""), "intake.runner_length");
  expect_refused(sheet_with("displacement = \"8 l\"\ncylinders = 16", ""), "engine.cylinders");
}

// Advertised 400 deg on a separation of 100 deg: both valves open for 200 deg about the top.
TEST(Robust, TwoHundredDegreesOfOverlapAreRefused) {
  expect_refused(
      sheet_with(kFour, "",
                 "intake_duration_050 = \"320 deg\"\nexhaust_duration_050 = \"320 "
                 "deg\"\nintake_advertised = \"400 deg\"\nexhaust_advertised = \"400 "
                 "deg\"\nlobe_separation = \"100 deg\"\nintake_centreline = \"100 deg\""),
      "cam.");
}

struct Extreme {
  const char* name;
  std::string text;
};
std::vector<Extreme> extremes() {
  const std::string eight = "displacement = \"5.7 l\"\ncylinders = 8";
  return {
      {"one cylinder", sheet_with("displacement = \"0.45 l\"\ncylinders = 1", "")},
      {"twelve cylinders", sheet_with("displacement = \"6 l\"\ncylinders = 12", "")},
      {"five valves", sheet_with(kFour, "[heads]\nvalves_per_cylinder = 5")},
      {"two valves", sheet_with(kFour, "[heads]\nvalves_per_cylinder = 2")},
      {"throttles of their own",
       sheet_with(kFour, "[intake]\narrangement = \"individual_throttles\"")},
      {"two planes", sheet_with(eight, "[intake]\narrangement = \"two_plane\"")},
      {"log manifold", sheet_with(kFour, "[exhaust]\narrangement = \"log\"")},
      {"log manifolds of a V8", sheet_with(eight, "[exhaust]\narrangement = \"log\"")},
      {"4-2-1", sheet_with(kFour, "[exhaust]\narrangement = \"four_two_one\"")},
      {"4-2-1 on a V8", sheet_with(eight, "[exhaust]\narrangement = \"four_two_one\"")},
      {"unequal runners",
       sheet_with(kFour,
                  "[intake]\nrunner_lengths = { values = [250, 450, 300, 400], unit = \"mm\" }")},
      {"mountain", sheet_with(kFour, "[place]\naltitude = \"4000 m\"")},
  };
}

TEST(Robust, TheWholeEngineIsComputedForEveryArrangementItCanHave) {
  for (const Extreme& x : extremes()) {
    const auto sheet = car::read_sheet(x.text, "sheet.toml");
    ASSERT_TRUE(sheet.ok()) << x.name << ": " << sheet.error().line();
    const auto model = engine_model(*sheet);
    ASSERT_TRUE(model.ok()) << x.name << ": " << model.error().line();
    const Surroundings around = surroundings_of(*sheet);
    const AbsolutePressure open = absolute(0.97 * around.ambient.from_zero);
    const AirMap map = whole_engine_map(*model, {{rpm(900), rpm(3500), rpm(11'000)},
                                                 {absolute(40 * kPa), open, absolute(250 * kPa)},
                                                 around});
    for (const AirNode& n : map.nodes)
      expect_sound(n, fmt::format("{} at {:.0f} rpm, {:.0f} kPa", x.name, n.speed.rpm,
                                  n.map.from_zero.in(kPa)));
    for (const std::size_t iy : {1U, 2U}) {
      const AirNode& n = map.node(1, iy);
      EXPECT_TRUE(n.reachable) << x.name;
      EXPECT_GT(n.ve, 0.6) << x.name << " at " << n.map.from_zero.in(kPa);
      EXPECT_LT(n.ve, 1.2) << x.name << " at " << n.map.from_zero.in(kPa);
    }
  }
}

// The fast form of the same engines at boost, and far beyond where they would be driven.
TEST(Robust, BoostAndElevenThousandRevolutionsAreComputed) {
  for (const Extreme& x : extremes()) {
    const auto sheet = car::read_sheet(x.text, "sheet.toml");
    const AirMap map = air_map(*engine_model(*sheet),
                               {{rpm(200), rpm(11'000), rpm(12'000)},
                                {absolute(10 * kPa), absolute(250 * kPa), absolute(400 * kPa)},
                                surroundings_of(*sheet)});
    for (const AirNode& n : map.nodes)
      expect_sound(n, fmt::format("{} at {:.0f} rpm, {:.0f} kPa", x.name, n.speed.rpm,
                                  n.map.from_zero.in(kPa)));
    EXPECT_TRUE(map.node(1, 1).reachable) << x.name;
  }
}

// A collector no wider than a primary, filled by three more of them: the junction once overshot
// more and more, and the engine was lost in its first cycle.
TEST(Robust, ACollectorAsNarrowAsAPrimaryDoesNotRunAway) {
  const auto sheet = car::read_sheet(
      sheet_with(kFour, "[exhaust]\nprimary_diameter = \"54 mm\"\ncollector_diameter = \"49 mm\""),
      "sheet.toml");
  ASSERT_TRUE(sheet.ok()) << sheet.error().line();
  const MapPlaces places{
      {rpm(263), rpm(2000), rpm(6000)}, {absolute(88 * kPa)}, {absolute(78 * kPa), kelvin(260)}};
  for (const AirMap& map :
       {air_map(*engine_model(*sheet), places), whole_engine_map(*engine_model(*sheet), places)}) {
    for (const AirNode& n : map.nodes) {
      EXPECT_TRUE(n.reachable) << n.speed.rpm;
      EXPECT_GT(n.ve, 0.4) << n.speed.rpm;
    }
  }
}

// Lanes are read when the last of their intake valves has shut; the charge that is reported stands
// at each one's own closing, or its burn would depend on its neighbours.
TEST(Robust, ALongCamInTheNextLaneDoesNotChangeThisEnginesCharge) {
  const auto short_cam = car::read_sheet(sheet_with(kFour, ""), "a");
  const auto long_cam =
      car::read_sheet(sheet_with(kFour, "", "intake_duration_050 = \"270 deg\""), "b");
  ASSERT_TRUE(short_cam.ok() && long_cam.ok());
  const EngineModel one = *engine_model(*short_cam), other = *engine_model(*long_cam);
  const MapPlaces places{{rpm(2500)}, {absolute(98 * kPa)}, surroundings_of(*short_cam)};
  const std::vector<EngineModel> both{one, other}, alone{one};
  const AirNode with = air_maps(both, places)[0].node(0, 0),
                without = air_maps(alone, places)[0].node(0, 0);
  constexpr double kSettling = 0.02;  // the shared time step settles a little elsewhere
  EXPECT_DOUBLE_EQ(with.closing.degrees(), without.closing.degrees());
  EXPECT_NEAR(with.charge_pressure.from_zero / without.charge_pressure.from_zero, 1, kSettling);
  EXPECT_NEAR(with.charge_temperature.from_zero / without.charge_temperature.from_zero, 1,
              kSettling);
}

}  // namespace
}  // namespace fuelwright::physics
