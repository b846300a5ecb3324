// What observed cells tell of full throttle: claimed and actual error on engines that were not used
// to make the ensemble, of its family and outside it. Truth engines are runs of the same flow
// model, so this measures the statistics, not the model.
//
//   fuelwright_ensemble_prior [members] [engines] [threads]
#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <string>

#include "car/build/sheet_file.h"
#include "physics/ensemble/condition.h"
#include "physics/ensemble/sample.h"
#include "physics/ensemble/what_to_measure.h"

namespace fuelwright::physics {
namespace {

constexpr double kCellNoise = 0.015;  // of ln VE, independent
constexpr double kTop_rpm = 4000;     // full-throttle cells from here on are scored
constexpr double kLight_kpa = 70, kSlow_rpm = 3500;

struct Run {
  int members = 256;
  int engines = 64;
  int threads = 2;
};

car::Sheet sheet_of(const char* cam) {
  const auto sheet = car::read_sheet(
      fmt::format("[engine]\nbore = \"4.030 in\"\nstroke = \"3.622 in\"\ncylinders = 8\n"
                  "compression = \"9.8 +- 0.25\"\n[cam]\n{}[exhaust]\nprimary_length = \"800 mm +- "
                  "80 mm\"\n"
                  "[intake]\nrunner_length = \"330 mm +- 33 mm\"\n"
                  "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
                  cam),
      "bench");
  if (!sheet) {
    std::fputs((sheet.error().line() + "\n").c_str(), stderr);
    std::exit(1);
  }
  return *sheet;
}

MapPlaces places_of(const car::Sheet& sheet) {
  MapPlaces places;
  for (const double n : {900, 1400, 2000, 2600, 3200, 3700, 4200, 4700, 5200, 5700, 6200})
    places.speeds.push_back(rpm(n));
  for (const double p : {30.0, 40.0, 50.0, 60.0, 68.0, 80.0, 90.0, 99.0})
    places.pressures.push_back(absolute(p * kPa));
  places.surroundings = surroundings_of(sheet);
  return places;
}

Drawn draw(const car::Sheet& sheet, int members, std::uint64_t seed, bool steps, int threads) {
  DrawSettings settings{.members = members, .seed = seed, .steps = steps};
  settings.maps.threads = threads;
  auto drawn = draw_engines(sheet, places_of(sheet), settings);
  if (!drawn) {
    std::fputs((drawn.error().line() + "\n").c_str(), stderr);
    std::exit(1);
  }
  return std::move(*drawn);
}

// An engine with another manifold than its sheet says: runners a third shorter, primaries a third
// longer.
car::Sheet other_parts(car::Sheet sheet) {
  sheet.intake.runner_length.value = 0.67 * sheet.intake.runner_length.value;
  for (Length& one : sheet.intake.runner_lengths.values) one = 0.67 * one;
  sheet.exhaust.primary_length.value = 1.33 * sheet.exhaust.primary_length.value;
  return sheet;
}

double rpm_of(const Ensemble& e, Eigen::Index i) {
  const auto& speeds = e.drawn().places.speeds;
  return speeds[static_cast<std::size_t>(i) % speeds.size()].rpm;
}
double kpa_of(const Ensemble& e, Eigen::Index i) {
  const MapPlaces& places = e.drawn().places;
  return places.pressures[static_cast<std::size_t>(i) / places.speeds.size()].from_zero.in(kPa);
}
bool is_scored(const Ensemble& e, Eigen::Index i) {
  return kpa_of(e, i) > 95 && rpm_of(e, i) >= kTop_rpm;
}

struct Score {
  double error2 = 0, claimed2 = 0, chi2 = 0;
  double ruled2 = 0;  // error once the verdict is obeyed
  int cells = 0, inside = 0, engines = 0, doubtful = 0, outside = 0;
  void print(const char* what) const {
    if (cells == 0) return;
    const double n = cells;
    std::fputs(
        fmt::format("| {} | {:.2f} / {:.2f} | {:.0f} % | {:.2f} | {} / {} of {} | {:.2f} |\n", what,
                    100 * std::sqrt(claimed2 / n), 100 * std::sqrt(error2 / n), 100 * inside / n,
                    chi2 / engines, doubtful, outside, engines, 100 * std::sqrt(ruled2 / n))
            .c_str(),
        stdout);
  }
};

// One engine: what was seen of it, and how well `scored` nodes follow from that.
void score(const Ensemble& e, const AirMap& truth, const Eigen::VectorXd& noise,
           const std::function<bool(Eigen::Index)>& seen,
           const std::function<bool(Eigen::Index)>& scored, Score* s) {
  const auto usable = [&](Eigen::Index i) {
    return e.known(i) && truth.nodes[static_cast<std::size_t>(i)].reachable;
  };
  const auto ln_ve = [&](Eigen::Index i) {
    return std::log(truth.nodes[static_cast<std::size_t>(i)].ve);
  };
  std::vector<Eigen::Index> at;
  for (Eigen::Index i = 0; i < e.nodes(); ++i)
    if (usable(i) && seen(i)) at.push_back(i);
  const auto n = static_cast<Eigen::Index>(at.size());
  Observed o{Eigen::MatrixXd::Zero(n, e.nodes()), Eigen::VectorXd(n),
             kCellNoise * kCellNoise * Eigen::MatrixXd::Identity(n, n)};
  for (Eigen::Index k = 0; k < n; ++k) {
    const Eigen::Index i = at[static_cast<std::size_t>(k)];
    o.rows(k, i) = 1;
    o.ln_ve[k] = ln_ve(i) + kCellNoise * noise[i];
  }
  const auto now = conditioned(e, o);
  const auto ruled = narrow(e, o);
  const Eigen::VectorXd sd = now->sd_log();
  s->chi2 += now->family.chi2_per_cell;
  s->outside += now->family.may_extrapolate() ? 0 : 1;
  s->doubtful += now->family.verdict == Family::doubtful ? 1 : 0;
  ++s->engines;
  for (Eigen::Index i = 0; i < e.nodes(); ++i) {
    if (!usable(i) || !scored(i)) continue;
    const double error = now->mean[i] - ln_ve(i);
    s->error2 += error * error;
    s->ruled2 += std::pow(ruled->mean[i] - ln_ve(i), 2);
    s->claimed2 += sd[i] * sd[i];
    s->inside += std::abs(error) < k95 * sd[i] ? 1 : 0;
    ++s->cells;
  }
}

void table(const std::string& title, const Ensemble& e, const std::vector<AirMap>& truths) {
  std::fputs(
      fmt::format("\n{}\n\n| observed | claimed sd / actual, % | within 95 % | chi2/n | doubtful / "
                  "outside | actual, verdict obeyed |\n|---|---|---|---|---|---|\n",
                  title)
          .c_str(),
      stdout);
  const Eigen::MatrixXd noise =
      normal_draws(static_cast<int>(truths.size()), static_cast<int>(e.nodes()), 4711);
  const auto top = [&](Eigen::Index i) { return is_scored(e, i); };
  const std::pair<const char*, std::function<bool(Eigen::Index)>> ways[] = {
      {"nothing", [](Eigen::Index) { return false; }},
      {"MAP < 70 kPa and rpm < 3500",
       [&](Eigen::Index i) { return kpa_of(e, i) < kLight_kpa && rpm_of(e, i) < kSlow_rpm; }},
      {"all MAP, rpm < 3500", [&](Eigen::Index i) { return rpm_of(e, i) < kSlow_rpm; }},
      {"MAP < 70 kPa at every rpm", [&](Eigen::Index i) { return kpa_of(e, i) < kLight_kpa; }}};
  for (const auto& [name, seen] : ways) {
    Score s;
    for (std::size_t m = 0; m < truths.size(); ++m)
      score(e, truths[m], noise.row(static_cast<Eigen::Index>(m)), seen, top, &s);
    s.print(name);
  }
  Score ladder;
  for (const EngineSpeed step : e.drawn().places.speeds) {
    if (step.rpm < kTop_rpm) continue;
    const auto seen = [&](Eigen::Index i) {
      return rpm_of(e, i) < step.rpm || (rpm_of(e, i) == step.rpm && kpa_of(e, i) < kLight_kpa);
    };
    const auto next = [&](Eigen::Index i) { return top(i) && rpm_of(e, i) == step.rpm; };
    for (std::size_t m = 0; m < truths.size(); ++m)
      score(e, truths[m], noise.row(static_cast<Eigen::Index>(m)), seen, next, &ladder);
  }
  ladder.print("ladder: all below, light load at this speed");
}

void one_cam(const char* name, const char* cam, const Run& run) {
  const car::Sheet sheet = sheet_of(cam);
  const auto start = std::chrono::steady_clock::now();
  Drawn drawn = draw(sheet, run.members, 1, true, run.threads);
  const double seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  EnsembleSettings settings;
  settings.discrepancy = Discrepancy::only_smooth();  // truth and ensemble share one model
  settings.scale_sd = 0;
  const Ensemble e(std::move(drawn), settings);
  std::fputs(fmt::format(
                 "\n## {}\n\n{} members, {} steps, {} nodes: {:.1f} s on {} threads; {} components "
                 "hold {:.2f} % of the variance\n",
                 name, run.members, e.drawn().parts.size(), e.nodes(), seconds, run.threads,
                 e.components().cols(), 100 * e.components_hold())
                 .c_str(),
             stdout);
  table("Engines of the family", e, draw(sheet, run.engines, 1001, false, run.threads).members);
  table("Engines whose runners and primaries are not those of the sheet", e,
        draw(other_parts(sheet), run.engines, 2002, false, run.threads).members);

  const Ensemble honest(e.drawn());
  std::fputs("\nMean share of the members' variance that single steps explain, by pressure:\n",
             stdout);
  const Eigen::VectorXd share = explained_by_steps(honest);
  const auto nx = static_cast<Eigen::Index>(e.drawn().places.speeds.size());
  for (Eigen::Index y = 0; y * nx < e.nodes(); ++y) {
    int known = 0;
    for (Eigen::Index x = 0; x < nx; ++x) known += e.known(y * nx + x) ? 1 : 0;
    std::fputs(fmt::format("  {:.0f} kPa: {:.2f} ({} of {} nodes known)\n", kpa_of(e, y * nx),
                           share.segment(y * nx, nx).sum() / std::max(known, 1), known, nx)
                   .c_str(),
               stdout);
  }
  std::fputs("\nWhat to measure next:\n", stdout);
  for (const Worth& w : what_to_measure(honest, usual_driving(honest, sheet)))
    std::fputs(("  " + w.says() + "\n").c_str(), stdout);
}

}  // namespace
}  // namespace fuelwright::physics

int main(int argc, char** argv) {
  using namespace fuelwright::physics;
  std::setvbuf(stdout, nullptr, _IOLBF, 0);
  Run run;
  if (argc > 1) run.members = std::atoi(argv[1]);
  if (argc > 2) run.engines = std::atoi(argv[2]);
  if (argc > 3) run.threads = std::atoi(argv[3]);
  one_cam(
      "Mild cam (214/220, separation 114)",
      "intake_duration_050 = \"214 deg\"\nexhaust_duration_050 = \"220 deg\"\n"
      "lobe_separation = \"114 deg\"\nintake_centreline = \"110 deg\"\nintake_lift = \"0.450 in\"\n"
      "exhaust_lift = \"0.460 in\"\n",
      run);
  one_cam(
      "Big cam (236/242, separation 110)",
      "intake_duration_050 = \"236 deg\"\nexhaust_duration_050 = \"242 deg\"\n"
      "lobe_separation = \"110 deg\"\nintake_centreline = \"106 deg\"\nintake_lift = \"0.520 in\"\n"
      "exhaust_lift = \"0.520 in\"\n",
      run);
}
