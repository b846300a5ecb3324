#include "physics/ensemble/family.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "base/contract.h"
#include "physics/ensemble/sample.h"
#include "physics/ensemble/suspects.h"

namespace fuelwright::physics {
namespace {

// Sums, not yet per anything: taken up, left over, in the strong modes, the worst suspect.
constexpr int kMarks = 4;
using Marks = std::array<double, kMarks>;
// How soon each may speak: the left over tells of no part, only that something does not fit.
constexpr Marks kWeight = {1, 0.1, 1, 1};
// A suspect that even at its worst would not be seen by so many sd is not looked for.
constexpr double kWouldBeSeen = 2;

// The observations as modes: C v = lambda W v with v' W v = 1, where C is the members' covariance
// and W that of everything else. x -> v' x / sqrt(1 + lambda) is then standard normal.
struct Modes {
  Eigen::MatrixXd into;      // [mode][observation]
  Eigen::ArrayXd lambda;     // the largest last
  Eigen::MatrixXd members;   // [member][mode]: their deviations
  Eigen::MatrixXd suspects;  // [suspect][mode]
  std::vector<std::string> names;
};

void take_suspects(const Ensemble& e, const Observed& o, Modes* m) {
  std::vector<Eigen::VectorXd> kept;
  for (Suspect& one : suspects_of(e)) {
    const Eigen::VectorXd seen = m->into * (o.rows * one.change);
    if (seen.norm() < kWouldBeSeen) continue;
    kept.push_back(seen);
    m->names.push_back(std::move(one.name));
  }
  m->suspects.resize(static_cast<Eigen::Index>(kept.size()), m->lambda.size());
  for (std::size_t k = 0; k < kept.size(); ++k)
    m->suspects.row(static_cast<Eigen::Index>(k)) = kept[k].transpose();
}

// Twice the gain in ln likelihood if that suspect, of whatever size, is allowed for.
Eigen::ArrayXd gains(const Modes& m, const Eigen::VectorXd& x, const Eigen::VectorXd& u, double c) {
  const double more = c / (1 - c * u.squaredNorm());
  const Eigen::ArrayXd gu = m.suspects * u, gx = m.suspects * x;
  const Eigen::ArrayXd along = gx + more * u.dot(x) * gu;
  return along.square() / (m.suspects.rowwise().squaredNorm().array() + more * gu.square());
}

Modes modes_of(const Ensemble& e, const Observed& o) {
  const double freedom = static_cast<double>(e.members() - 1);
  const Eigen::MatrixXd seen = e.deviations() * o.rows.transpose();  // [member][observation]
  // At a node what is missing or unknown is no member's: it belongs to the rest.
  const Eigen::MatrixXd of_members = e.covariance_of_members();
  const Eigen::VectorXd plain = e.deviations().colwise().squaredNorm().transpose() / freedom;
  Eigen::MatrixXd rest = e.covariance() - of_members;
  rest.diagonal() += (of_members.diagonal() - plain).cwiseMax(0.0);
  Eigen::MatrixXd W = o.rows * rest * o.rows.transpose() + o.noise;
  W.array() += std::pow(e.settings().scale_sd, 2);
  const Eigen::GeneralizedSelfAdjointEigenSolver<Eigen::MatrixXd> solver(
      seen.transpose() * seen / freedom, 0.5 * (W + W.transpose()));
  EXPECTS(solver.info() == Eigen::Success);
  Modes m;
  m.lambda = solver.eigenvalues().array().max(0.0);
  m.into = (1 + m.lambda).rsqrt().matrix().asDiagonal() * solver.eigenvectors().transpose();
  m.members = seen * m.into.transpose();
  take_suspects(e, o, &m);
  return m;
}

// Marks of the residual x in these modes, where it has covariance 1 - c u u'. c is 0 for an engine
// that took no part in the ensemble; a member u is judged by the others, whose covariance that is.
Marks marks_of(const Modes& m, const Eigen::VectorXd& x, const Eigen::VectorXd& u, double c) {
  const Eigen::ArrayXd rest = (1 + m.lambda).inverse();  // W in these modes; members' and it are 1
  const double pull = c * u.dot(x) / (1 - c * u.squaredNorm());  // (ensemble.11)
  const Eigen::VectorXd solved = x + pull * u;
  const double all = x.dot(solved);
  const double left = (rest * solved.array().square()).sum();  // (ensemble.8)
  const Eigen::Index strong = (m.lambda > 1).count();
  const auto xs = x.tail(strong), us = u.tail(strong);
  const double across = us.dot(xs);
  const double suspect = m.suspects.rows() > 0 ? gains(m, x, u, c).maxCoeff() : 0;  // (ensemble.14)
  return {all - left, left, xs.squaredNorm() + c * across * across / (1 - c * us.squaredNorm()),
          suspect};
}

// How engines of the family would have looked: members, several times each if they are few.
std::vector<Marks> looks_of_the_family(const Modes& m) {
  constexpr Eigen::Index kLooks = 1024;
  constexpr std::uint64_t kSeed = 20011;  // any
  const auto members = static_cast<double>(m.members.rows());
  const double c = members / ((members - 1) * (members - 1));
  const Eigen::MatrixXd z =
      normal_draws(static_cast<int>(kLooks), static_cast<int>(m.lambda.size()), kSeed);
  const Eigen::VectorXd rest = (1 + m.lambda).rsqrt();  // sd of all but the members, mode by mode
  std::vector<Marks> out;
  for (Eigen::Index k = 0; k < kLooks; ++k) {
    const Eigen::VectorXd member = m.members.row(k % m.members.rows());
    const Eigen::VectorXd drawn = z.row(k).transpose().cwiseProduct(rest);
    out.push_back(marks_of(m, member * members / (members - 1) + drawn, member, c));
  }
  return out;
}

// Share of `sorted` that is `value` or more; never 0, for nobody has seen all engines.
double share_above(const std::vector<double>& sorted, double value) {
  const auto above = sorted.end() - std::lower_bound(sorted.begin(), sorted.end(), value);
  return (static_cast<double>(above) + 1) / (static_cast<double>(sorted.size()) + 1);
}

// Chance that an engine of the family has a mark as rare as the rarest of these.
double chance_of(const Marks& seen, const std::vector<Marks>& family) {
  std::array<std::vector<double>, kMarks> sorted;
  for (int i = 0; i < kMarks; ++i) {
    for (const Marks& one : family) sorted[i].push_back(one[i]);
    std::sort(sorted[i].begin(), sorted[i].end());
  }
  const auto commonness = [&](const Marks& one) {
    double least = 1;
    for (int i = 0; i < kMarks; ++i)
      least = std::min(least, share_above(sorted[i], one[i]) / kWeight[i]);
    return least;
  };
  std::vector<double> rarity;  // of the family's own rarest marks
  for (const Marks& one : family) rarity.push_back(-commonness(one));
  std::sort(rarity.begin(), rarity.end());
  return share_above(rarity, -commonness(seen));
}

}  // namespace

const char* name_of(Family verdict) {
  switch (verdict) {
    case Family::inside:
      return "inside";
    case Family::doubtful:
      return "doubtful";
    case Family::outside:
      break;
  }
  return "outside";
}

std::string FamilyTest::says() const {
  if (cells == 0) return "nothing has been measured yet";
  const std::string figure = fmt::format("chi2/n {:.2g} over {} places", chi2_per_cell, cells);
  std::string rare =
      fmt::format("{}; of engines with these parts {:.2g} % look so", figure, 100 * chance);
  if (suspect_sd > k95) rare += fmt::format("; most like: {} ({:.1f} sd)", suspect, suspect_sd);
  switch (verdict) {
    case Family::inside:
      return "what was measured fits the parts on the sheet (" + figure + ")";
    case Family::doubtful:
      return "what was measured fits the parts on the sheet badly (" + rare +
             "): check the sheet before trusting places that were not driven";
    case Family::outside:
      break;
  }
  return "what was measured does not fit the parts on the sheet (" + rare +
         "): nothing is concluded about places that were not driven";
}

double FamilyTest::worst_mark() const {
  return std::max({chi2_per_cell, taken_up, left_over, in_strong});
}

FamilyTest family_test(const Ensemble& ensemble, const Observed& observed) {
  const Eigen::Index n = observed.ln_ve.size();
  EXPECTS(n > 0 && observed.rows.rows() == n && observed.rows.cols() == ensemble.nodes());
  EXPECTS(observed.noise.rows() == n && observed.noise.cols() == n);
  const Modes modes = modes_of(ensemble, observed);
  const Eigen::VectorXd x = modes.into * (observed.ln_ve - observed.rows * ensemble.mean());
  const Marks marks = marks_of(modes, x, Eigen::VectorXd::Zero(n), 0);
  FamilyTest test;
  test.cells = static_cast<int>(n);
  test.freedom = (modes.lambda / (1 + modes.lambda)).sum();
  test.strong = static_cast<int>((modes.lambda > 1).count());
  const double rest = static_cast<double>(n) - test.freedom;
  test.chi2_per_cell = (marks[0] + marks[1]) / static_cast<double>(n);
  test.taken_up = test.freedom > 0 ? marks[0] / test.freedom : 0;
  test.left_over = rest > 0 ? marks[1] / rest : 0;
  test.in_strong = test.strong > 0 ? marks[2] / test.strong : 0;
  if (!modes.names.empty()) {
    Eigen::Index most = 0;
    const double gain = gains(modes, x, Eigen::VectorXd::Zero(n), 0).maxCoeff(&most);
    test.suspect = modes.names[static_cast<std::size_t>(most)];
    test.suspect_sd = std::sqrt(gain);
  }
  test.chance = chance_of(marks, looks_of_the_family(modes));
  const double worst = test.worst_mark();
  if (test.chance < kDoubtfulChance) test.verdict = Family::doubtful;
  if (test.chance < kOutsideChance && worst > kOutsideMark) test.verdict = Family::outside;
  return test;
}

}  // namespace fuelwright::physics
