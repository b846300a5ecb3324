#include "advice/sensor_checks/internal/levels.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "advice/sensor_checks/internal/air.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kBlock_s = 20;
constexpr double kMostBlocks = 180;  // an hour; longer recordings have longer blocks
constexpr int kSpeeds = 12, kLoads = 10;
constexpr double kSlowest_rpm = 600, kPerSpeed = 1.22, kLeastPlace_pa = 20e3, kPerLoad_pa = 9e3;
constexpr double kPlaceSd = 0.10;  // of a table as found (docs/theory/estimate.md)
constexpr double kWarmthSd = 0.5;  // of a unit's law of charge temperature (from memory)
// Drift of sound sensors, as docs/theory/dynamic_estimate.md.
constexpr double kWanderSd = 0.006, kWander_s = 120;
constexpr double kRowSd = 0.010, kRepeats = 8;  // of a settled row; what neighbours repeat
constexpr double kWarming_s = 150;  // film and oil are still settling after the coolant is warm
constexpr double kWarmEngine_k = 343.15;
constexpr double kLeastLoad_pa = 30e3, kMostOff = 0.6;
constexpr int kPlaces = kSpeeds * kLoads, kBefore = kPlaces + 2;  // unknowns before the levels

// One settled row: what it stands on, and what it says.
struct Row {
  std::array<std::pair<int, double>, 6> on;  // place or warmth, and its share
  int block = 0;
  double y = 0;
};

// Lower neighbour and share of the upper one.
std::pair<int, double> between(double x, int count) {
  const double at = std::clamp(x, 0.0, count - 1.001);
  const int low = static_cast<int>(at);
  return {low, at - low};
}

void stand(Row& row, double n, double p) {
  const auto [ix, sx] = between(std::log(n / kSlowest_rpm) / std::log(kPerSpeed), kSpeeds);
  const auto [iy, sy] = between((p - kLeastPlace_pa) / kPerLoad_pa, kLoads);
  row.on[0] = {iy * kSpeeds + ix, (1 - sx) * (1 - sy)};
  row.on[1] = {iy * kSpeeds + ix + 1, sx * (1 - sy)};
  row.on[2] = {(iy + 1) * kSpeeds + ix, (1 - sx) * sy};
  row.on[3] = {(iy + 1) * kSpeeds + ix + 1, sx * sy};
}

// ln of a temperature over its usual one; 0 where it is not known.
double warmth(const Column* c, std::size_t i, double usual) {
  return c && (*c)[i] > 200 && usual > 200 ? std::log((*c)[i] / usual) : 0.0;
}

struct Rows {
  std::vector<Row> all;
  double block_s = kBlock_s;
};

Rows rows_of(const Looking& l, int bank) {
  const Column* lambda = l.col(Quantity::lambda, bank);
  const Column* target = l.col(Quantity::target);
  const Column* correction = l.col(Quantity::correction);
  const Column* speed = l.col(Quantity::rpm);
  const Column* map = l.col(Quantity::map);
  const Column* coolant = l.col(Quantity::coolant);
  const Column* intake = l.col(Quantity::intake_air);
  Rows out;
  if (!lambda || !target || !speed || !map) return out;
  const std::vector<char> settled = settled_rows(l);
  const double idle = 1.35 * l.car.sheet.wishes.idle_speed.si();
  const double first = l.r.time_s[0];
  const double usual_in = intake ? median(*intake) : 0, usual_cool = coolant ? median(*coolant) : 0;
  out.block_s = std::max(kBlock_s, (l.r.time_s[l.n - 1] - first) / kMostBlocks);
  double warm = coolant ? 0 : kWarming_s;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (coolant && l.running[i] && (*coolant)[i] > kWarmEngine_k) warm += l.step_s;
    // Idle and overrun read by laws of their own (dilution).
    const bool driving = (*speed)[i] > idle && (*map)[i] > kLeastLoad_pa;
    if (!settled[i] || warm < kWarming_s || !driving) continue;
    Row row;
    row.y =
        std::log((*lambda)[i] / (*target)[i]) + (correction ? std::log1p((*correction)[i]) : 0.0);
    if (!std::isfinite(row.y) || std::abs(row.y) > kMostOff) continue;
    stand(row, (*speed)[i], (*map)[i]);
    row.on[4] = {kPlaces, warmth(intake, i, usual_in)};
    row.on[5] = {kPlaces + 1, warmth(coolant, i, usual_cool)};
    row.block = static_cast<int>((l.r.time_s[i] - first) / out.block_s);
    out.all.push_back(row);
  }
  return out;
}

// Blocks that hold rows, numbered one after another.
std::map<int, Eigen::Index> blocks_of(const std::vector<Row>& rows) {
  std::map<int, Eigen::Index> out;
  for (const Row& r : rows) out.emplace(r.block, 0);
  Eigen::Index next = kBefore;
  for (auto& [block, at] : out) at = next++;
  return out;
}

struct Normal {
  Eigen::MatrixXd N;
  Eigen::VectorXd b;
};
Normal normal_of(const std::vector<Row>& rows, const std::map<int, Eigen::Index>& blocks) {
  const auto n = kBefore + static_cast<Eigen::Index>(blocks.size());
  Normal out{Eigen::MatrixXd::Zero(n, n), Eigen::VectorXd::Zero(n)};
  const double w = 1 / (kRowSd * kRowSd * kRepeats);
  for (const Row& r : rows) {
    const Eigen::Index level = blocks.at(r.block);
    for (const auto& [i, a] : r.on) {
      for (const auto& [k, c] : r.on) out.N(i, k) += w * a * c;
      out.N(i, level) += w * a;
      out.N(level, i) += w * a;
      out.b[i] += w * a * r.y;
    }
    out.N(level, level) += w;
    out.b[level] += w * r.y;
  }
  for (int i = 0; i < kPlaces; ++i) out.N(i, i) += 1 / (kPlaceSd * kPlaceSd);
  for (int i = kPlaces; i < kBefore; ++i) out.N(i, i) += 1 / (kWarmthSd * kWarmthSd);
  return out;
}

// Mean residuals of a block at a place against what the weights expect of them, 1 to 25.
double left_over(const std::vector<Row>& rows, const std::map<int, Eigen::Index>& blocks,
                 const Eigen::VectorXd& x) {
  std::map<std::pair<int, int>, std::pair<double, double>> means;
  for (const Row& r : rows) {
    double off = r.y - x[blocks.at(r.block)];
    for (const auto& [i, a] : r.on) off -= a * x[i];
    auto& [sum, count] = means[{r.block, r.on[0].first}];
    sum += off;
    count += 1;
  }
  double chi2 = 0;
  for (const auto& [key, m] : means) {
    chi2 += m.first * m.first / m.second / (kRowSd * kRowSd * kRepeats);
  }
  const double freedom = static_cast<double>(means.size()) - static_cast<double>(blocks.size());
  return freedom < 5 ? 1.0 : std::clamp(chi2 / freedom, 1.0, 25.0);
}

}  // namespace

std::optional<Levels> levels_of(const Looking& l, int bank, std::size_t least) {
  const Rows rows = rows_of(l, bank);
  const auto blocks = blocks_of(rows.all);
  if (blocks.size() < least) return std::nullopt;
  const Normal normal = normal_of(rows.all, blocks);
  const Eigen::LDLT<Eigen::MatrixXd> solver(normal.N);
  const Eigen::VectorXd x = solver.solve(normal.b);  // (sensor_checks.12)
  const auto n = static_cast<Eigen::Index>(blocks.size());
  Eigen::MatrixXd of_levels = Eigen::MatrixXd::Zero(normal.N.rows(), n);
  of_levels.bottomRows(n).setIdentity();
  Levels out;
  out.level = x.tail(n);
  out.S = solver.solve(of_levels).bottomRows(n) * left_over(rows.all, blocks, x);
  for (const auto& [block, at] : blocks) out.t.push_back((block + 0.5) * rows.block_s);
  for (Eigen::Index i = 0; i < n; ++i) {
    for (Eigen::Index k = 0; k < n; ++k) {
      const double dt =
          std::abs(out.t[static_cast<std::size_t>(i)] - out.t[static_cast<std::size_t>(k)]);
      out.S(i, k) += kWanderSd * kWanderSd * std::exp(-dt / kWander_s);
    }
  }
  return out;
}

Changes::Changes(const Levels& levels) : levels_(levels) {
  const Eigen::Index n = levels.S.rows();
  const Eigen::MatrixXd Q = levels.S.llt().solve(Eigen::MatrixXd::Identity(n, n));
  const Eigen::VectorXd q = Q.rowwise().sum();
  P_ = Q - q * q.transpose() / q.sum();
}

Change Changes::along(const Eigen::VectorXd& h) const {
  const Eigen::VectorXd Ph = P_ * h;
  const double known = h.dot(Ph);
  if (!(known > 0)) return {};
  return {Ph.dot(levels_.level) / known, 1 / std::sqrt(known), 0};  // (sensor_checks.15)
}

Change Changes::line() const {
  const double span = levels_.t.back() - levels_.t.front();
  Eigen::VectorXd h(P_.rows());
  for (Eigen::Index i = 0; i < h.size(); ++i) {
    h[i] = (levels_.t[static_cast<std::size_t>(i)] - levels_.t.front()) / span;
  }
  return along(h);
}

std::optional<Change> Changes::strongest_step() const {
  constexpr Eigen::Index kSide = 3;
  std::optional<Change> best;
  Eigen::VectorXd h = Eigen::VectorXd::Ones(P_.rows());
  for (Eigen::Index k = 0; k + kSide < h.size(); ++k) {
    h[k] = 0;
    if (k + 1 < kSide) continue;
    Change one = along(h);
    one.t =
        0.5 * (levels_.t[static_cast<std::size_t>(k)] + levels_.t[static_cast<std::size_t>(k) + 1]);
    if (!best || one.z() > best->z()) best = one;
  }
  return best;
}

}  // namespace fuelwright::advice
