// The whole network: what goes in is what is there, and every instruction set computes the same.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <memory>
#include <sstream>

#include "car/build/sheet_file.h"
#include "physics/breathing/internal/networks.h"
#include "physics/breathing/kernel/entry.h"

namespace fuelwright::physics {
namespace {

struct Case {
  const char* name;
  void (*network)(std::span<const LanePlace>, const Batch&, const ValveTables&, kernel::Network*);
  double rpm, map_pa;
};
// Wide open, part load near the speed of most wave action, and idle with much overlap flow.
const Case kCases[] = {{"one cylinder, 5500 rpm, 100 kPa", one_cylinder, 5500, 100e3},
                       {"one cylinder, 2500 rpm, 60 kPa", one_cylinder, 2500, 60e3},
                       {"one cylinder, 900 rpm, 65 kPa", one_cylinder, 900, 65e3},
                       {"whole engine, 4000 rpm, 90 kPa", whole_engine, 4000, 90e3},
                       {"whole engine, 1500 rpm, 50 kPa", whole_engine, 1500, 50e3}};

const EngineModel& street_v8() {
  static const EngineModel model = [] {
    std::ifstream in(std::string(FUELWRIGHT_SOURCE_DIR) + "/examples/street_v8.toml");
    std::stringstream text;
    text << in.rdbuf();
    return *engine_model(*car::read_sheet(text.str(), "street_v8.toml"));
  }();
  return model;
}

// The same variant in every lane, a fixed number of cycles from a cold start.
std::unique_ptr<kernel::Result> cycles(const Case& c, const kernel::Entry& entry, int count,
                                       double step_deg = 0) {
  const EngineModel::Parts& parts = street_v8().parts();
  const std::vector<LanePlace> lanes(static_cast<std::size_t>(entry.lanes), {&parts, c.map_pa});
  const std::vector<const EngineModel::Parts*> engines(lanes.size(), &parts);
  const ValveTables valves(engines, entry.lanes);
  const Surroundings here{absolute(100.0 * kPa), celsius(30)};
  const auto net = std::make_unique<kernel::Network>();
  c.network(lanes, {c.rpm, here, 0.03, count}, valves, net.get());
  net->settle = 0;  // never settled
  net->step_deg = step_deg;
  auto result = std::make_unique<kernel::Result>();
  const std::unique_ptr<void, decltype(&std::free)> space(
      std::aligned_alloc(64, (entry.workspace + 63) / 64 * 64), &std::free);
  entry.run(*net, space.get(), false, result.get());
  return result;
}

struct Set {
  InstructionSet set;
  const kernel::Entry& entry;
};
std::vector<Set> of_this_machine() {
  std::vector<Set> sets{{InstructionSet::sse2, kernel::k_sse2}};
  const InstructionSet best = best_instruction_set();
  if (best != InstructionSet::sse2) sets.push_back({InstructionSet::avx2, kernel::k_avx2});
  if (best == InstructionSet::avx512) sets.push_back({best, kernel::k_avx512});
  return sets;
}

struct Missing {
  double pipe_mass, pipe_energy, cylinder_mass, cylinder_energy;
};
// Over the last cycle, each over what the engine turns over in one: mass of the trapped charge, the
// heat of its fuel.
Missing missing(const kernel::Result& r, int cylinders) {
  double mass = 0;
  for (int c = 0; c < cylinders; ++c) mass += r.lane[c][0].trapped_kg;
  const double energy = mass * 2.5e6;
  const kernel::Ledger& l = r.ledger;
  return {(l.pipe_mass[0] - l.pipe_mass_in[0]) / mass,
          (l.pipe_energy[0] - l.pipe_energy_in[0]) / energy,
          (l.cylinder_mass[0] - l.cylinder_mass_in[0]) / mass,
          (l.cylinder_energy[0] - l.cylinder_energy_in[0]) / energy};
}

void expect_kept(const Missing& m, double tolerance, const std::string& where) {
  EXPECT_NEAR(m.pipe_mass, 0, tolerance) << where;
  EXPECT_NEAR(m.pipe_energy, 0, tolerance) << where;
  EXPECT_NEAR(m.cylinder_mass, 0, tolerance) << where;
  EXPECT_NEAR(m.cylinder_energy, 0, tolerance) << where;
}

// In double to the last digits: every flux goes to both sides, and no floor is ever touched. In
// float some 2000 roundings a cycle add up to 2e-6.
TEST(Conservation, MassAndEnergyAreKeptInPipesAndCylinders) {
  for (const Case& c : kCases) {
    const int n = c.network == one_cylinder ? 1 : 8;
    expect_kept(missing(*cycles(c, kernel::k_scalar, 3), n), 1e-13, c.name);
    for (const Set& s : of_this_machine()) {
      const std::string where = std::string(c.name) + ", " + name_of(s.set);
      expect_kept(missing(*cycles(c, s.entry, 3), n), 1e-5, where);
    }
  }
}

// Between two cycles the throttle's control may rescale the intake, and the ledger must not see it;
// within a cycle gas does come and go.
TEST(Conservation, TheLedgerCountsWhatFlowed) {
  for (const Case& c : kCases) {
    const auto run = cycles(c, kernel::k_scalar, 3);
    EXPECT_GT(std::abs(run->ledger.pipe_energy_in[0]), 1e-3) << c.name;
    EXPECT_GT(std::abs(run->ledger.cylinder_mass_in[0]), 1e-9) << c.name;
  }
}

// Four cycles from a cold start. The differences grow a little from cycle to cycle, because
// residual gas and filling act on one another, and steps that fall a hair later are other steps.
TEST(Lanes, EveryInstructionSetComputesWhatTheScalarDoes) {
  const double swept = street_v8().parts().swept_m3;
  for (const Case& c : kCases) {
    constexpr double kSame = 1e-5;
    // The same steps for all: where the speed of sound sets them, the last digit of a step decides
    // at which angle the next ones fall, and cycles differ by the scheme's own error (about 1e-4)
    // and not by rounding.
    const double step = c.rpm < 1000 ? 0.2 : 0.1 * c.rpm / 1000;
    const double full = c.map_pa * swept / (287.05 * 303.15);
    const auto oracle = cycles(c, kernel::k_scalar, 4, step);
    for (const Set& s : of_this_machine()) {
      const auto run = cycles(c, s.entry, 4, step);
      for (const int l : {0, s.entry.lanes - 1}) {
        const kernel::Lane &o = oracle->lane[0][0], &f = run->lane[0][l];
        const std::string where = std::string(c.name) + ", " + name_of(s.set);
        EXPECT_NEAR(f.fresh_kg / full, o.fresh_kg / full, kSame) << where;
        EXPECT_NEAR(f.residual, o.residual, kSame) << where;
        EXPECT_NEAR(f.pressure_pa / o.pressure_pa, 1, kSame) << where;
        EXPECT_NEAR(f.temperature_k / o.temperature_k, 1, kSame) << where;
        EXPECT_NEAR(f.pumping_j / o.indicated_j, o.pumping_j / o.indicated_j, kSame) << where;
        EXPECT_NEAR(f.indicated_j / o.indicated_j, 1, 2 * kSame) << where;
      }
    }
  }
}

// A lane must not notice its neighbours, apart from the step they share: a lane next to other
// pressures gives what it gives among its like, to the error of the step.
TEST(Lanes, ALaneHardlyNoticesItsNeighbours) {
  const auto at = [](std::vector<double> kpa, InstructionSet set) {
    MapPlaces places{{rpm(2500)}, {}, {absolute(100.0 * kPa), celsius(30)}};
    for (const double p : kpa) places.pressures.push_back(absolute(p * kPa));
    MapSettings settings;
    settings.instructions = set;
    const AirMap map = air_map(street_v8(), places, settings);
    return std::pair{map.nodes.front().ve, map.nodes.back().ve};
  };
  for (const Set& s : of_this_machine()) {
    EXPECT_NEAR(at({40, 60, 80, 100}, s.set).second, at({100}, s.set).second, 3e-3);
    EXPECT_NEAR(at({90, 120, 180}, s.set).first, at({90}, s.set).first, 3e-3) << name_of(s.set);
  }
}

}  // namespace
}  // namespace fuelwright::physics
