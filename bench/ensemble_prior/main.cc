// What observed cells tell of full throttle: claimed and actual error on engines that were not used
// to make the ensemble, and whether those that are not what the sheet says are noticed. Truth
// engines are runs of the same flow model, so this measures the statistics, not the model.
//
//   fuelwright_ensemble_prior [members] [engines of a kind] [threads] [directory] [tuning]
//
// Draws are kept in the directory ("" for none) and read again: empty it when the flow model has
// changed. `tuning`: other kinds and seeds, to make a test with, in place of the scored.
#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "bench/ensemble_prior/engines.h"
#include "bench/ensemble_prior/scoring.h"

namespace fuelwright::physics {
namespace {

constexpr double kLight_kpa = 70, kMid_kpa = 90;
constexpr double kCommon = 0.04;  // of ln VE: injectors and sensor (EnsembleSettings::scale_sd)

void print(const std::string& line) { std::fputs((line + "\n").c_str(), stdout); }

double percent(int of, int all) { return all > 0 ? 100.0 * of / all : 0.0; }

void row(const std::string& kind, const std::string& driven, const Score& s, bool outside,
         bool climbed) {
  const auto sd = [&](double sum2) { return 100 * std::sqrt(sum2 / s.cells); };
  std::string line =
      fmt::format("| {} | {} | {} | {:.2f} / {:.2f} | {:.0f} % of {} | {:.0f} % ({:.0f} %)", kind,
                  driven, s.looks, sd(s.claimed2), sd(s.error2), percent(s.within, s.cells),
                  s.cells, percent(s.noticed, s.looks), percent(s.outside, s.looks));
  line += climbed
              ? fmt::format(" | {:.0f} % / {:.0f} % | {:.0f} %", percent(s.stopped, s.looks),
                            percent(s.stopped99, s.looks), percent(s.noticed_or_stopped, s.looks))
              : std::string(" | - | -");
  line += outside
              ? fmt::format(" | {:.1f} | {:.0f} %", s.distance / s.looks, 100 * s.at_most / s.looks)
              : std::string(" | - | -");
  print(line + fmt::format(" | {} of {} |", s.harmed_noticed, s.harmed));
}

void table(const Ensemble& e, const Ensemble& common, const Group& inside,
           const std::vector<Group>& outside, const Run& run) {
  print(
      "\n| engines | driven | looks | claimed sd / actual rms, % | within 95 % | called (outside) "
      "| rung beyond 95 / 99 % | called, or a rung beyond 99 % | d | any test at most | harmed "
      "and noticed |\n|---|---|---|---|---|---|---|---|---|---|---|");
  const auto ways = [&](const Group& g, const std::string& name, const Errors& errors) {
    const bool out = g.twins.rows() > 0;
    row(name, "MAP < 70 kPa", at_part_load(e, g, kLight_kpa, errors, run), out, false);
    row(name, "MAP < 90 kPa", at_part_load(e, g, kMid_kpa, errors, run), out, false);
    row(name, "MAP < 70 kPa, then the ladder", up_the_ladder(e, g, kLight_kpa, errors, run), out,
        true);
    row(name, "MAP < 70 kPa, 4 % common error",
        at_part_load(common, g, kLight_kpa, {.common = kCommon, .model = errors.model}, run), out,
        false);
  };
  ways(inside, inside.name, {.model = false});
  ways(inside, inside.name + ", the model wrong by 1.5 %", {});
  for (const Group& g : outside) ways(g, g.name, {});
}

void one_cam(const Cam& cam, const Run& run) {
  Drawn drawn = ensemble_of(cam, run);
  EnsembleSettings settings;
  settings.discrepancy = Discrepancy::only_smooth();  // truth and ensemble share one model
  settings.scale_sd = 0;
  settings.suspects = suspects_for(cam, run);
  const Ensemble e(std::move(drawn), settings);
  settings.scale_sd = kCommon;
  const Ensemble common(e.drawn(), settings);
  const Group inside = inside_of(cam, run);
  print(
      fmt::format("\n## {}\n\n{} members, {} nodes; {} engines inside, {} of each kind outside, "
                  "each looked at {} times; {} components hold {:.2f} % of the variance",
                  cam.name, run.members, e.nodes(), run.inside, run.engines, run.looks,
                  e.components().cols(), 100 * e.components_hold()));
  table(e, common, inside, outside_of(cam, run), run);
}

}  // namespace
}  // namespace fuelwright::physics

int main(int argc, char** argv) {
  using namespace fuelwright::physics;
  std::setvbuf(stdout, nullptr, _IOLBF, 0);
  Run run;
  if (argc > 1) run.members = std::atoi(argv[1]);
  if (argc > 2) run.engines = std::atoi(argv[2]);
  run.inside = 6 * run.engines;
  if (argc > 3) run.threads = std::atoi(argv[3]);
  if (argc > 4) run.keep = argv[4];
  run.tuning = argc > 5 && std::string(argv[5]) == "tuning";
  const auto start = std::chrono::steady_clock::now();
  for (const Cam& cam : kCams) one_cam(cam, run);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
  print(fmt::format("\n{:.0f} s on {} threads", took.count(), run.threads));
}
