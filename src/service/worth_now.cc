#include "service/worth_now.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "service/ensembles.h"

namespace fuelwright::service {
namespace {

constexpr const char* kPredictedSheet = "sheet of the prediction";

std::map<std::string, car::Line> by_path(const car::Sheet& sheet) {
  std::map<std::string, car::Line> out;
  for (car::Line& l : car::describe(sheet, UnitSystem::metric)) {
    std::string path = l.section + "." + l.key;
    out.emplace(std::move(path), std::move(l));
  }
  return out;
}

bool is_same(const car::Line& a, const car::Line& b) {
  return a.si == b.si && a.tolerance_si == b.tolerance_si && a.value == b.value;
}

// How one part moved: r and d of (ensemble.14).
struct Move {
  double width = 1;
  double shift = 0;
};

struct Moves {
  std::vector<Move> of_part;
  std::vector<std::string> beside;  // changed values that no part stands for, in words
};

bool is_number(const car::Line& l) { return l.si.size() == 1 && l.tolerance_si > 0; }

Moves moves_of(const physics::Drawn& drawn, const car::Sheet& then, const car::Sheet& now) {
  const auto before = by_path(then), after = by_path(now);
  Moves out;
  out.of_part.resize(drawn.parts.size());
  std::map<std::string, bool> told;
  for (std::size_t k = 0; k < drawn.parts.size(); ++k) {
    const auto a = before.find(drawn.parts[k].id), b = after.find(drawn.parts[k].id);
    if (a == before.end() || b == after.end()) continue;
    if (!is_number(a->second) || b->second.si.size() != 1) continue;
    const double half = a->second.tolerance_si;
    out.of_part[k] = {b->second.tolerance_si / half,
                      (b->second.si[0] - a->second.si[0]) / (half / physics::k95)};
    told[drawn.parts[k].id] = true;
  }
  for (const auto& [path, line] : after) {
    const auto was = before.find(path);
    if (was != before.end() && is_same(was->second, line)) continue;
    if (!told.contains(path)) out.beside.push_back(line.about);
  }
  return out;
}

void scale(physics::AirNode& node, double ln) {
  if (node.reachable) node.ve *= std::exp(ln);
}

// (ensemble.14)
physics::Drawn moved(const physics::Ensemble& ensemble, const Moves& moves) {
  physics::Drawn out = ensemble.drawn();
  const Eigen::MatrixXd& J = ensemble.sensitivities();
  const auto parts = static_cast<std::size_t>(J.rows());
  for (std::size_t n = 0; n < out.nodes(); ++n) {
    const auto column = static_cast<Eigen::Index>(n);
    double shift = 0;
    for (std::size_t k = 0; k < parts; ++k) {
      shift += J(static_cast<Eigen::Index>(k), column) * moves.of_part[k].shift;
    }
    for (std::size_t i = 0; i < out.members.size(); ++i) {
      double ln = shift;
      for (std::size_t k = 0; k < parts; ++k) {
        const auto row = static_cast<Eigen::Index>(k);
        ln += J(row, column) * out.z(static_cast<Eigen::Index>(i), row) *
              (moves.of_part[k].width - 1);
      }
      scale(out.members[i].nodes[n], ln);
    }
    for (std::size_t k = 0; k < out.steps.size() && k < parts; ++k) {
      scale(out.steps[k].nodes[n],
            shift + J(static_cast<Eigen::Index>(k), column) * (moves.of_part[k].width - 1));
    }
    scale(out.centre.nodes[n], shift);
    if (out.whole) scale(out.whole->nodes[n], shift);
  }
  for (std::size_t k = 0; k < parts; ++k) {
    const double r = moves.of_part[k].width;
    if (r > 0) out.parts[k].leaves = std::min(1.0, out.parts[k].leaves / r);
  }
  return out;
}

std::vector<physics::Worth> worth_of(const physics::Ensemble& ensemble, const car::Sheet& sheet) {
  return physics::what_to_measure(ensemble, physics::usual_driving(ensemble, sheet));
}

std::string says_of(const Moves& moves) {
  std::string out =
      "To first order, from the engines drawn before the sheet was changed; predict again for the "
      "whole answer.";
  if (moves.beside.empty()) return out;
  constexpr std::size_t kMost = 4;
  const auto shown = std::min(moves.beside.size(), kMost);
  return out +
         fmt::format(" Not in it yet: {}{}.",
                     fmt::join(moves.beside.begin(),
                               moves.beside.begin() + static_cast<std::ptrdiff_t>(shown), ", "),
                     moves.beside.size() > kMost ? " and more" : "");
}

}  // namespace

Status keep_for_worth(Job& job, const std::string& old, const By& by) {
  FW_TRY(const std::optional<physics::Drawn> drawn, last_ensemble(job));
  if (!drawn) return Done{};
  FW_TRY(const std::optional<std::string> kept, job.setting(kPredictedSheet));
  if (kept == old) return Done{};
  return job.set_setting(kPredictedSheet, old, by);
}

Result<EnginesNow> engines_now(const Job& job, const car::Sheet& sheet) {
  EnginesNow out;
  FW_TRY(std::optional<physics::Drawn> drawn, last_ensemble(job));
  if (drawn) {
    out.engines.emplace(std::move(*drawn));
    out.of = WorthOf::this_sheet;
    out.says = fmt::format("From {} engines that could be this one.", out.engines->members());
    return out;
  }
  out.says = "Nothing is predicted yet; predict says what measuring is worth.";
  FW_TRY(const std::optional<std::string> toml, job.setting(kPredictedSheet));
  if (!toml) return out;
  FW_TRY(drawn, last_ensemble(job, *toml));
  const auto then = car::read_sheet(*toml, job.path() + ": sheet of the prediction");
  if (!drawn || !then) return out;
  const physics::Ensemble before(std::move(*drawn));
  const Moves moves = moves_of(before.drawn(), *then, sheet);
  out.engines.emplace(moved(before, moves), before.settings());
  out.of = WorthOf::earlier;
  out.says = says_of(moves);
  return out;
}

Result<WorthNow> worth_now(const Job& job, const car::Sheet& sheet) {
  FW_TRY(EnginesNow now, engines_now(job, sheet));
  WorthNow out{{}, now.of, std::move(now.says)};
  if (now.engines) out.worth = worth_of(*now.engines, sheet);
  return out;
}

}  // namespace fuelwright::service
