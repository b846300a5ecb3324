#include "compare.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/Core>

namespace fuelwright::bench {
namespace {

constexpr double kAlways = 1e9;
const Duration kPullsAtMost = 400.0 * second;

bool ordinary(Where where) { return where != Where::overrun; }

}  // namespace

Material material(std::uint64_t number, const MaterialOptions& options, const Keep& keep) {
  Material m{test_car(number, keep), {}, {}, {}, {}, {}};
  const sim::virtual_car::Truth truth =
      options.true_sensor ? with_true_sensor(m.car.truth) : m.car.truth;
  const std::string name =
      fmt::format("car_{}{}", number, options.true_sensor ? "_true_sensor" : "");
  const sim::virtual_car::Cycle cycle = ordinary_driving(number);
  const car::Plan plan = pulls(m.car);
  const Duration length = kLongest_min * 60.0 * second;
  const std::uint64_t seed = 10 * number;
  m.ordinary = keep.text(name + "_ordinary.csv",
                         [&] { return recorded(m.car, truth, cycle, seed, length); });
  m.pulls = keep.text(name + "_pulls.csv",
                      [&] { return recorded(m.car, truth, plan, seed + 1, kPullsAtMost); });
  const auto judge = [&](const char* what, const sim::virtual_car::Truth& t,
                         const std::variant<sim::virtual_car::Cycle, car::Plan>& task,
                         std::uint64_t road, Duration time) {
    return kept(keep, fmt::format("car_{}_{}.txt", number, what),
                [&] { return judge_drive(m.car, t, task, road, time); });
  };
  m.judge = judge("judge", m.car.truth, cycle, seed + 2, length);
  m.judge_pulls = judge("judge_pulls", m.car.truth, plan, seed + 3, kPullsAtMost);
  if (options.other_day) {
    m.judge_other_day =
        judge("judge_other_day", another_day(m.car.truth, seed), cycle, seed + 4, length);
  }
  return m;
}

Scores scores_of(const Material& m, double minutes, const Says& says) {
  const auto over = [&](double until_s, auto which) {
    return score(m.judge, m.car.table(),
                 [&](Where w, double t) { return t <= until_s && which(w); }, says);
  };
  const double until_s = 60 * minutes;
  return {.driven = over(until_s, ordinary),
          .all = over(kAlways, ordinary),
          .part = over(until_s, [](Where w) { return w == Where::driven; }),
          .overrun = over(kAlways, [](Where w) { return w == Where::overrun; })};
}

Score full_throttle(const Material& m, const Says& says) {
  return score(m.judge_pulls, m.car.table(), [](Where w, double) { return w == Where::full; },
               says);
}

void Scores::add(const Scores& other) {
  driven.add(other.driven);
  all.add(other.all);
  part.add(other.part);
  overrun.add(other.overrun);
}

double best_possible(const Material& m) {
  const car::Surface& found = m.car.table();
  const auto n = static_cast<Eigen::Index>(found.grid.size());
  constexpr double kWeak = 1e-3;  // nodes never driven stay as they are
  Eigen::MatrixXd H = kWeak * Eigen::MatrixXd::Identity(n, n);
  Eigen::VectorXd h = Eigen::VectorXd::Zero(n);
  for (std::size_t i = 0; i < m.judge.at.size(); ++i) {
    if (!ordinary(m.judge.where[i])) continue;
    const double y = std::log(m.judge.needed_ve[i] / found.at(m.judge.at[i]));
    const auto s = found.grid.shares(m.judge.at[i]);
    for (std::size_t a = 0; a < static_cast<std::size_t>(s.count); ++a) {
      h[s.node[a]] += s.share[a] * y;
      for (std::size_t b = 0; b < static_cast<std::size_t>(s.count); ++b) {
        H(s.node[a], s.node[b]) += s.share[a] * s.share[b];
      }
    }
  }
  const Eigen::VectorXd x = H.ldlt().solve(h);
  const car::Surface best{found.grid, {x.data(), x.data() + x.size()}};
  return scores_of(m, kLongest_min, [&](const auto& at) { return Answer{best.at(at), 0}; })
      .all.rms();
}

}  // namespace fuelwright::bench
