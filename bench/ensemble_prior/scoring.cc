#include "bench/ensemble_prior/scoring.h"

#include <Eigen/Dense>
#include <cmath>
#include <future>
#include <numbers>

#include "physics/ensemble/sample.h"
#include "physics/ensemble/uncertain.h"

namespace fuelwright::physics {
namespace {

constexpr double kCell_sd = 0.010, kShared = 0.5;  // of ln VE; share of the variance
constexpr double kNear_ln_speed = 0.35, kNear_kpa = 25;
constexpr double kTop_rpm = 4000, kFull_kpa = 95;
constexpr double k99 = 2.575829;  // 99 % half-width of a standard normal (arithmetic)
constexpr double k95_one_sided = 1.644854;

using Nodes = std::vector<Eigen::Index>;

double rpm_of(const Ensemble& e, Eigen::Index i) {
  const auto& speeds = e.drawn().places.speeds;
  return speeds[static_cast<std::size_t>(i) % speeds.size()].rpm;
}
double kpa_of(const Ensemble& e, Eigen::Index i) {
  const MapPlaces& places = e.drawn().places;
  return places.pressures[static_cast<std::size_t>(i) / places.speeds.size()].from_zero.in(kPa);
}

template <class Wanted>
Nodes nodes_where(const Ensemble& e, const Eigen::RowVectorXd& engine, Wanted wanted) {
  Nodes out;
  for (Eigen::Index i = 0; i < e.nodes(); ++i)
    if (e.known(i) && !std::isnan(engine[i]) && wanted(rpm_of(e, i), kpa_of(e, i)))
      out.push_back(i);
  return out;
}

Eigen::MatrixXd noise_of(const Ensemble& e) {
  Eigen::MatrixXd out(e.nodes(), e.nodes());
  for (Eigen::Index i = 0; i < e.nodes(); ++i) {
    for (Eigen::Index j = 0; j < e.nodes(); ++j) {
      const double far = std::abs(std::log(rpm_of(e, i) / rpm_of(e, j))) / kNear_ln_speed +
                         std::abs(kpa_of(e, i) - kpa_of(e, j)) / kNear_kpa;
      out(i, j) = kCell_sd * kCell_sd * (kShared * std::exp(-far) + (i == j ? 1 - kShared : 0));
    }
  }
  return out;
}

Eigen::MatrixXd draws_of(const Eigen::MatrixXd& covariance, int count, std::uint64_t seed) {
  const Eigen::LLT<Eigen::MatrixXd> root(covariance);
  const auto n = static_cast<int>(covariance.rows());
  return normal_draws(count, n, seed) * root.matrixL().transpose();
}

// One engine, looked at once.
struct Look {
  Eigen::RowVectorXd truth, read, shift;  // ln VE by node; shift empty inside
};

struct Looks {
  Eigen::MatrixXd noise;  // covariance over all nodes
  std::vector<Look> all;
};

Looks looks_at(const Ensemble& e, const Group& g, const Errors& errors, const Run& run) {
  constexpr std::uint64_t kSeed = 4711;
  Looks out{noise_of(e), {}};
  const auto count = static_cast<int>(g.engines.rows()) * run.looks;
  const std::uint64_t seed = kSeed + (run.tuning ? 100 : 0);
  const Eigen::MatrixXd noise = draws_of(out.noise, count, seed);
  const Eigen::MatrixXd model =
      draws_of(e.covariance() - e.covariance_of_members(), count, seed + 1);
  const Eigen::VectorXd common = errors.common * normal_draws(count, 1, seed + 2);
  for (Eigen::Index k = 0; k < count; ++k) {
    const Eigen::Index m = k % g.engines.rows();
    Look one;
    one.truth = g.engines.row(m);
    if (errors.model) one.truth += model.row(k);
    one.read = (one.truth + noise.row(k)).array() + common[k];
    if (g.twins.rows() > 0) one.shift = g.engines.row(m) - g.twins.row(m);
    out.all.push_back(one);
  }
  return out;
}

Observed observed(const Ensemble& e, const Looks& looks, const Look& look, const Nodes& seen) {
  const auto n = static_cast<Eigen::Index>(seen.size());
  Observed o{Eigen::MatrixXd::Zero(n, e.nodes()), Eigen::VectorXd(n), looks.noise(seen, seen)};
  for (Eigen::Index k = 0; k < n; ++k) {
    o.rows(k, seen[static_cast<std::size_t>(k)]) = 1;
    o.ln_ve[k] = look.read[seen[static_cast<std::size_t>(k)]];
  }
  return o;
}

Eigen::LLT<Eigen::MatrixXd> spread_of(const Ensemble& e, const Looks& looks, const Nodes& seen) {
  Eigen::MatrixXd S = e.covariance()(seen, seen) + looks.noise(seen, seen);
  S.array() += std::pow(e.settings().scale_sd, 2);
  return Eigen::LLT<Eigen::MatrixXd>(S);
}

void add_power(const Ensemble& e, const Looks& looks, const Look& look, const Nodes& seen,
               Score* s) {
  if (look.shift.size() == 0) return;
  Nodes both;
  for (const Eigen::Index i : seen)
    if (!std::isnan(look.shift[i])) both.push_back(i);
  const Eigen::VectorXd shift = look.shift(both).transpose();
  const double d = std::sqrt(shift.dot(spread_of(e, looks, both).solve(shift)));
  s->distance += d;
  s->at_most += 0.5 * std::erfc((k95_one_sided - d) / std::numbers::sqrt2);
}

void add_cell(double error, double variance, Score* s) {
  s->error2 += error * error;
  s->claimed2 += variance;
  s->within += error * error < k95 * k95 * variance ? 1 : 0;
  ++s->cells;
}

Score part_load(const Ensemble& e, const Looks& looks, const Look& look, double below_kpa) {
  const Nodes seen =
      nodes_where(e, look.truth, [&](double, double kpa) { return kpa < below_kpa; });
  const Nodes top = nodes_where(
      e, look.truth, [](double rpm, double kpa) { return rpm >= kTop_rpm && kpa > kFull_kpa; });
  const auto now = conditioned(e, observed(e, looks, look, seen));
  Score s{.looks = 1};
  s.noticed = now->family.verdict == Family::inside ? 0 : 1;
  s.outside = now->family.may_extrapolate() ? 0 : 1;
  for (const Eigen::Index i : top)
    add_cell(now->mean[i] - look.truth[i], now->covariance(i, i), &s);
  s.harmed = s.error2 > k95 * k95 * s.claimed2 ? 1 : 0;
  s.harmed_noticed = s.harmed * s.noticed;
  add_power(e, looks, look, seen, &s);
  return s;
}

Score ladder(const Ensemble& e, const Looks& looks, const Look& look, double below_kpa) {
  Nodes seen = nodes_where(e, look.truth, [&](double, double kpa) { return kpa < below_kpa; });
  const FamilyTest test = family_test(e, observed(e, looks, look, seen));
  Score s{.looks = 1};
  s.noticed = test.verdict == Family::inside ? 0 : 1;
  s.outside = test.may_extrapolate() ? 0 : 1;
  const Nodes rungs =
      nodes_where(e, look.truth, [](double, double kpa) { return kpa > kFull_kpa; });
  for (const Eigen::Index i : rungs) {
    const auto solve = spread_of(e, looks, seen);
    // Noise is shared by neighbours: what is read next is told by it too, the truth is not.
    const Eigen::VectorXd to_truth = e.covariance()(seen, i);
    const Eigen::VectorXd a = solve.solve((look.read(seen).transpose() - e.mean()(seen)).eval());
    const double mean = e.mean()[i] + to_truth.dot(a);
    const double variance = e.covariance()(i, i) - to_truth.dot(solve.solve(to_truth));
    if (rpm_of(e, i) >= kTop_rpm) add_cell(mean - look.truth[i], variance, &s);
    const double common = std::pow(e.settings().scale_sd, 2);
    const Eigen::VectorXd to_read =
        to_truth + looks.noise(seen, i) + Eigen::VectorXd::Constant(to_truth.size(), common);
    const double read_mean = e.mean()[i] + to_read.dot(a);
    const double read_variance =
        e.covariance()(i, i) + looks.noise(i, i) + common - to_read.dot(solve.solve(to_read));
    const double z = std::abs(look.read[i] - read_mean) / std::sqrt(read_variance);
    if (z > k95) s.stopped = 1;
    if (z > k99) s.stopped99 = 1;
    seen.push_back(i);
  }
  s.noticed_or_stopped = s.noticed != 0 || s.stopped99 != 0 ? 1 : 0;
  s.harmed = s.error2 > k95 * k95 * s.claimed2 ? 1 : 0;
  s.harmed_noticed = s.harmed * s.noticed_or_stopped;
  add_power(e, looks, look, seen, &s);
  return s;
}

template <class One>
Score over_all(const Ensemble& e, const Group& g, const Errors& errors, const Run& run, One one) {
  const Looks looks = looks_at(e, g, errors, run);
  const auto some = [&](std::size_t first) {
    Score out;
    for (std::size_t k = first; k < looks.all.size(); k += static_cast<std::size_t>(run.threads))
      out.add(one(looks, looks.all[k]));
    return out;
  };
  std::vector<std::future<Score>> parts;
  for (int t = 0; t < run.threads; ++t)
    parts.push_back(std::async(std::launch::async, some, static_cast<std::size_t>(t)));
  Score out;
  for (auto& part : parts) out.add(part.get());
  return out;
}

}  // namespace

void Score::add(const Score& o) {
  looks += o.looks, noticed += o.noticed, outside += o.outside;
  harmed += o.harmed, harmed_noticed += o.harmed_noticed;
  cells += o.cells, within += o.within, error2 += o.error2, claimed2 += o.claimed2;
  at_most += o.at_most, distance += o.distance;
  stopped += o.stopped, stopped99 += o.stopped99, noticed_or_stopped += o.noticed_or_stopped;
}

Score at_part_load(const Ensemble& e, const Group& group, double below_kpa, const Errors& errors,
                   const Run& run) {
  return over_all(e, group, errors, run, [&](const Looks& looks, const Look& look) {
    return part_load(e, looks, look, below_kpa);
  });
}

Score up_the_ladder(const Ensemble& e, const Group& group, double below_kpa, const Errors& errors,
                    const Run& run) {
  return over_all(e, group, errors, run, [&](const Looks& looks, const Look& look) {
    return ladder(e, looks, look, below_kpa);
  });
}

}  // namespace fuelwright::physics
