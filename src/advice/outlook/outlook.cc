#include "advice/outlook/outlook.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "advice/outlook/internal/climb.h"
#include "advice/proposal/carried.h"
#include "advice/proposal/targets.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::advice {
namespace {

using internal::kTo95;

constexpr double kLowestMap_pa = 16e3;  // overrun begins above it (common practice, no source)
constexpr double kBoost = 1.05;         // of ambient pressure: beyond weather and ram air
constexpr double kRichest = 0.65;       // richer burns unevenly (common practice, no source)
constexpr double kStumbles = 1.25;      // leaner burns unevenly (common practice, no source)
constexpr double kNearDuty = 0.05;      // this much below most_duty it is near
constexpr double kMostVe = 1.10;        // of unboosted street engines (common practice, no source)

double above(double z) { return 0.5 * std::erfc(z / std::numbers::sqrt2); }

class Looking {
 public:
  Looking(const OutlookInput& in, const car::Surface& aim, const Carried& known,
          const OutlookOptions& options)
      : in_(in), aim_(aim), known_(known), options_(options), grid_(in.table.grid) {
    for (std::size_t i = 0; i < grid_.size(); ++i) {
      boosted_ = boosted_ || (known_.mark(i) == car::NodeMark::measured && share(i) > kBoost);
    }
    computed_ = !options_.supply.empty() && in_.estimate.evidence.what == car::TableWhat::ve;
    for (const RungCheck& c : in_.climbed)
      if (c.refuted() && (!refuted_ || c.speed < refuted_->speed)) refuted_ = c;
  }

  Outlook look() const {
    Outlook out{.grid = grid_, .family = in_.family, .options = options_};
    out.options.supply.clear();
    out.supply_computed = computed_;
    out.refuted = refuted_;
    out.assumed_air = in_.estimate.evidence.what == car::TableWhat::correction;
    out.rail = in_.sheet.injection.regulator_pressure.value;
    out.rail_above = in_.sheet.injection.regulator_reference.value;
    for (std::size_t i = 0; i < grid_.size(); ++i) {
      out.nodes.push_back(begin(i));
      note_flow(i, out.nodes.back(), out.proven_flow);
    }
    const std::vector<double> proven = missing_where_proven(out);
    for (std::size_t i = 0; i < grid_.size(); ++i) {
      NodeOutlook& n = out.nodes[i];
      predict(i, out.proven_flow, proven, n);
      if (n.go == Go::not_predicted) n.mixture.reset(), n.chance.reset();
    }
    out.ladder = internal::climb(out, known_, in_.sheet);
    return out;
  }

 private:
  double share(std::size_t i) const {
    return internal::share_of_row(grid_, i / grid_.x.size(), in_.sheet);
  }
  EngineSpeed speed(std::size_t i) const { return rpm(grid_.x[i % grid_.x.size()]); }
  AbsolutePressure ambient() const { return in_.sheet.place.pressure.value; }
  // A throttle axis does not say the pressure: ambient is the most it can be.
  AbsolutePressure manifold(std::size_t i) const {
    if (grid_.y.kind() == car::AxisKind::throttle) return ambient();
    return absolute(share(i) * ambient().from_zero.si * pascal);
  }
  double ln_lambda(std::size_t i) const {  // (outlook.5)
    return std::log(aim_.values[i]) + known_.ln_value(i) - std::log(in_.table.values[i]);
  }

  // What needs no verdict: spread, limit, fuel.
  NodeOutlook begin(std::size_t i) const {
    NodeOutlook n;
    n.sd = known_.sd(i);
    n.limit = options_.safe.at(share(i));
    if (manifold(i).from_zero.si <= 0 || speed(i).rpm <= 0) return n;
    // The unit gives fuel by its table and its aim; a table of factors does not say how much.
    n.fuel = in_.estimate.evidence.what == car::TableWhat::ve
                 ? fuel_asked(in_.sheet, speed(i), manifold(i), ambient(), in_.table.values[i],
                              car::lambda(aim_.values[i]))
                 : fuel_asked(in_.sheet, speed(i), manifold(i), ambient(), kMostVe,
                              car::lambda(std::exp(ln_lambda(i))));
    return n;
  }

  void note_flow(std::size_t i, const NodeOutlook& n, std::optional<MassFlow>& most) const {
    // Little throttle flows less than ambient pressure would: it proves nothing.
    if (grid_.y.kind() == car::AxisKind::throttle && !n.limit) return;
    if (known_.mark(i) != car::NodeMark::measured || !n.fuel) return;
    if (!most || n.fuel->flow > *most) most = n.fuel->flow;
  }

  // Of every system at the largest flow that was driven; empty: nothing was, or not computed.
  std::vector<double> missing_where_proven(const Outlook& out) const {
    std::vector<double> missing;
    if (!out.proven_flow || !computed_) return missing;
    for (std::size_t i = 0; i < grid_.size(); ++i) {
      const NodeOutlook& n = out.nodes[i];
      if (!n.fuel || known_.mark(i) != car::NodeMark::measured || n.fuel->flow != *out.proven_flow)
        continue;
      for (const auto& s : options_.supply)
        missing.push_back(missing_fuel(s, {speed(i), manifold(i), n.fuel->flow}));
      break;
    }
    return missing;
  }

  // (outlook.8), one a system.
  std::vector<double> missing_at(std::size_t i, const std::vector<double>& proven,
                                 const NodeOutlook& n) const {
    if (!n.new_flow || !n.fuel) return {0.0};
    std::vector<double> out;
    for (std::size_t k = 0; k < options_.supply.size(); ++k) {
      const double all = missing_fuel(options_.supply[k], {speed(i), manifold(i), n.fuel->flow});
      out.push_back(std::max(0.0, all - (proven.empty() ? 0.0 : proven[k])));
    }
    return out;
  }

  void mix_by_supply(std::size_t i, const std::vector<double>& proven, NodeOutlook& n) const {
    std::vector<double> missing = missing_at(i, proven, n);
    n.missing = physics::quantile(missing, 0.5);
    constexpr double kFelt = 0.02;
    n.missing_chance = static_cast<double>(std::count_if(missing.begin(), missing.end(),
                                                         [](double a) { return a > kFelt; })) /
                       static_cast<double>(missing.size());
    const MixedMixture mixed(ln_lambda(i), n.sd, std::move(missing));
    constexpr double kTail = 0.025;
    n.mixture = MixtureInterval{car::lambda(std::exp(mixed.quantile(kTail))),
                                car::lambda(std::exp(mixed.quantile(0.5))),
                                car::lambda(std::exp(mixed.quantile(1 - kTail)))};
    if (n.limit) n.chance = mixed.above(std::log(n.limit->value));
  }

  void mix_by_rule(std::size_t i, NodeOutlook& n) const {
    const double a = n.new_flow ? -std::log1p(-options_.delivery_lean) : 0.0;
    const double ln = ln_lambda(i);
    n.mixture = MixtureInterval{car::lambda(std::exp(ln - kTo95 * n.sd)), car::lambda(std::exp(ln)),
                                car::lambda(std::exp(ln + kTo95 * n.sd + a))};  // (outlook.5)
    if (n.limit) n.chance = above((std::log(n.limit->value) - ln - a) / n.sd);  // (outlook.6)
  }

  void predict(std::size_t i, const std::optional<MassFlow>& proven,
               const std::vector<double>& missing_then, NodeOutlook& n) const {
    n.new_flow = !n.fuel || !proven || n.fuel->flow > *proven;
    computed_ ? mix_by_supply(i, missing_then, n) : mix_by_rule(i, n);
    if (known_.mark(i) == car::NodeMark::measured) return say(n, Go::driven, Because::measured);
    if (const auto closed = closed_by(i, n)) return say(n, Go::not_predicted, *closed);
    if (speed(i) > in_.sheet.wishes.rev_limit.value) {
      return say(n, Go::not_yet, Because::beyond_rev_limit);
    }
    n.limit ? judge_high(i, n) : judge_light(n);
    if (n.go == Go::fine && n.fuel->duty > options_.most_duty - kNearDuty) {
      say(n, Go::with_care, Because::near_duty);
    }
  }

  static void say(NodeOutlook& n, Go go, Because because) {
    n.go = go;
    n.because = because;
  }

  // Why nothing is predicted there at all.
  std::optional<Because> closed_by(std::size_t i, const NodeOutlook& n) const {
    if (!known_.inside(i)) return Because::outside_axes;
    if (manifold(i).from_zero.si < kLowestMap_pa) return Because::overrun;
    if (share(i) > kBoost && !boosted_) return Because::needs_boost;
    if (in_.family && !in_.family->may_extrapolate()) return Because::outside_family;
    if (n.limit && refuted_ && speed(i) >= refuted_->speed) return Because::rung_refuted;
    if (!n.fuel) return Because::no_pressure;
    if (!computed_ && n.fuel->duty > options_.most_duty) return Because::beyond_duty;
    return std::nullopt;
  }

  void judge_high(std::size_t i, NodeOutlook& n) const {
    if (*n.chance > options_.care_chance) return say(n, Go::not_yet, Because::too_lean);
    if (*n.chance > options_.fine_chance) return say(n, Go::with_care, Because::may_be_lean);
    if (in_.family && in_.family->verdict == physics::Family::doubtful) {
      return say(n, Go::with_care, Because::doubtful_family);
    }
    if (!in_.family && known_.mark(i) == car::NodeMark::prior_only) {
      return say(n, Go::with_care, Because::no_model);
    }
    if (n.mixture->rich.value < kRichest) return say(n, Go::with_care, Because::may_be_too_rich);
    say(n, Go::fine, Because::within_limit);
  }

  static void judge_light(NodeOutlook& n) {
    if (n.mixture->lean.value > kStumbles) return say(n, Go::with_care, Because::may_stumble_lean);
    if (n.mixture->rich.value < kRichest) return say(n, Go::with_care, Because::may_be_too_rich);
    say(n, Go::fine, Because::light_load);
  }

  const OutlookInput& in_;
  const car::Surface& aim_;
  const Carried& known_;
  const OutlookOptions& options_;
  const car::Grid& grid_;
  std::optional<RungCheck> refuted_;  // the lowest
  bool computed_ = false;             // the fuel system; of an assumed flow it would say nothing
  bool boosted_ = false;              // it has been driven above ambient pressure
};

Status check(const OutlookInput& in, const car::Surface& aim, const OutlookOptions& options) {
  FW_CHECK(validate(options));
  const std::size_t n = in.table.grid.size();
  for (std::size_t i = 0; i < n; ++i) {
    FW_CHECK(within("lambda_target", aim.values[i], 0.5, 2));
    if (!(in.table.values[i] > 0)) {
      return Error{ErrorCode::out_of_range, "table",
                   fmt::format("came {}, expected a value above 0", in.table.values[i])};
    }
  }
  return Done{};
}

}  // namespace

const char* name_of(Go go) {
  switch (go) {
    case Go::driven:
      return "driven";
    case Go::fine:
      return "fine to try";
    case Go::with_care:
      return "approach with care";
    case Go::not_yet:
      return "do not try yet";
    case Go::not_predicted:
      return "not predicted";
  }
  broken_contract("a verdict of the list", __FILE__, __LINE__);
}

Status validate(const OutlookOptions& o) {
  FW_CHECK(validate(o.safe));
  FW_CHECK(within("chance of being too lean that is fine", o.fine_chance, 0.0005, 0.05));
  FW_CHECK(
      within("chance of being too lean to approach with care", o.care_chance, o.fine_chance, 0.25));
  FW_CHECK(within("most duty", o.most_duty, 0.50, 0.95));
  FW_CHECK(within("fuel that may be missing", o.delivery_lean, 0, 0.20));
  return Done{};
}

int Outlook::count(Go go) const {
  return static_cast<int>(
      std::count_if(nodes.begin(), nodes.end(), [&](const auto& n) { return n.go == go; }));
}

Result<Outlook> look_ahead(const OutlookInput& input, const OutlookOptions& options) {
  const car::TableWhat what = input.estimate.evidence.what;
  EXPECTS(what == car::TableWhat::ve || what == car::TableWhat::correction);
  FW_TRY(const Carried known, Carried::onto(input.estimate, input.table.grid));
  FW_TRY(const car::Surface aim, read_off(input.aim, input.table.grid, "lambda_target"));
  FW_CHECK(check(input, aim, options));
  return Looking(input, aim, known, options).look();
}

}  // namespace fuelwright::advice
