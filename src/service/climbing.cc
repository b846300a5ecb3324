#include "service/climbing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/proposal/targets.h"

namespace fuelwright::service {
namespace {

using signals::Quantity;

constexpr const char* kFoundSetting = "cause found after recording";
constexpr double kSettled_s = 0.6;     // as the guard's: the reading is that old
constexpr double kLeast_s = 0.3;       // of readings at a node
constexpr double kAtNode = 0.4;        // share of the node from which a row belongs to it
constexpr double kFull = 0.9;          // of ambient pressure
constexpr double kWarm_k = 333.15;
constexpr double kReading_sd = 0.015;  // of a node reached by short pulls only, as the ladder's
constexpr double kRichest = 0.5, kLeanest = 2;  // beyond, it is no reading of a burning mixture

struct Predicted {
  std::size_t node = 0;
  advice::NodeOutlook outlook;
};

// None for a proposal that said nothing about full throttle.
Result<std::vector<Predicted>> predicted_of(const StoredProposal& p, const car::Grid& grid,
                                            const std::string& where) {
  const auto json = nlohmann::json::parse(p.details_json, nullptr, false);
  std::vector<Predicted> out;
  if (!json.is_object() || !json.contains("ladder")) return out;
  try {
    for (const auto& one : json.at("ladder")) {
      Predicted step{.node = one.at("node").get<std::size_t>()};
      const auto at = [&](const char* key) { return car::lambda(one.at(key).get<double>()); };
      step.outlook.go = advice::Go::with_care;
      step.outlook.mixture = {at("rich"), at("middle"), at("lean")};
      step.outlook.sd = one.at("sd").get<double>();
      if (step.node < grid.size()) out.push_back(step);
    }
  } catch (const nlohmann::json::exception&) {
    return Error{ErrorCode::damaged, where, "its predicted steps are not as they were written"};
  }
  return out;
}

// Mean mixture read at each node at settled full throttle, as the table alone would give it.
struct Read {
  double seconds = 0, ln = 0;  // ln summed over seconds
};
std::vector<Read> read_at_full(const signals::Recording& r, const car::Grid& grid,
                               AbsolutePressure ambient, const car::Surface& aim) {
  std::vector<Read> out(grid.size());
  const auto* n = r.find(Quantity::rpm);
  const auto* p = r.find(Quantity::map);
  const auto* lambda = r.find(Quantity::lambda);
  const auto* target = r.find(Quantity::target);
  const auto* correction = r.find(Quantity::correction);
  const auto* warm = r.find(Quantity::coolant);
  const auto* pulse = r.find(Quantity::pulse_width);
  if (!n || !p || !lambda || !r.row_step || r.pace == signals::Pace::unordered) return out;
  const double step = r.row_step->si;
  double full_s = 0;
  for (std::size_t i = 0; i < r.rows; ++i) {
    const bool full = p->si[i] > kFull * ambient.from_zero.si && !(pulse && pulse->si[i] <= 0) &&
                      !(warm && warm->si[i] < kWarm_k);
    full_s = full ? full_s + step : 0;
    const double read = lambda->si[i];
    if (full_s < kSettled_s || !(read > kRichest && read < kLeanest)) continue;
    const car::OperatingPoint at{
        .speed = rpm(n->si[i]), .map = absolute(p->si[i] * pascal), .ambient = ambient};
    const double meant = target && target->si[i] > kRichest ? target->si[i] : aim.at(at);
    const double corrected = correction && correction->si[i] > -0.5 ? correction->si[i] : 0;
    const car::NodeShares shares = grid.shares(at);
    for (std::size_t k = 0; k < static_cast<std::size_t>(shares.count); ++k) {
      if (shares.share[k] < kAtNode) continue;
      Read& one = out[static_cast<std::size_t>(shares.node[k])];
      one.seconds += step;
      one.ln += step * (std::log(read / meant) + std::log1p(corrected));
    }
  }
  return out;
}

Status check_drive(const Ground& g, const Loaded& l, const StoredProposal& proposal,
                   std::vector<advice::RungCheck>& out) {
  const std::optional<car::Surface> unit = in_the_unit(g, l, car::TableWhat::ve);
  if (!unit || unit->grid.y.kind() == car::AxisKind::throttle) return Done{};
  const std::string where = fmt::format("proposal {}", proposal.id);
  FW_TRY(const auto predicted, predicted_of(proposal, unit->grid, where));
  if (predicted.empty()) return Done{};
  FW_TRY(const car::Surface aim,
         advice::target_mixture(g.driven_with.at(*l.how.driven_with), g.sheet, unit->grid));
  advice::Outlook before{.grid = unit->grid};
  before.nodes.resize(unit->grid.size());
  const AbsolutePressure ambient =
      l.how.answers.ambient.value_or(g.sheet.place.pressure.value);
  const std::vector<Read> read = read_at_full(l.recording, unit->grid, ambient, aim);
  for (const Predicted& step : predicted) {
    const Read& came = read[step.node];
    if (came.seconds < kLeast_s) continue;
    before.nodes[step.node] = step.outlook;
    const double lambda = aim.values[step.node] * std::exp(came.ln / came.seconds);
    FW_TRY(const advice::RungCheck c,
           advice::check_rung(before, step.node, car::lambda(lambda), kReading_sd));
    out.push_back(c);
  }
  return Done{};
}

Result<std::int64_t> judged_from(const Job& job) {
  FW_TRY(const auto kept, job.setting(kFoundSetting));
  if (!kept) return std::int64_t{0};
  const auto json = nlohmann::json::parse(*kept, nullptr, false);
  if (json.is_number_integer()) return json.get<std::int64_t>();
  return Error{ErrorCode::damaged, job.path(),
               fmt::format("the setting '{}' is not as it was written", kFoundSetting)};
}

}  // namespace

nlohmann::json predicted_steps(const advice::Outlook& outlook) {
  auto out = nlohmann::json::array();
  for (const advice::Rung& r : outlook.ladder.rungs) {
    const advice::NodeOutlook& n = outlook.nodes[r.node];
    if (!n.mixture || n.go == advice::Go::driven) continue;
    out.push_back({{"node", r.node},
                   {"rpm", r.speed.rpm},
                   {"rich", n.mixture->rich.value},
                   {"middle", n.mixture->middle.value},
                   {"lean", n.mixture->lean.value},
                   {"sd", n.sd}});
  }
  return out;
}

Result<std::vector<advice::RungCheck>> climbed(const Job& job, const Ground& g) {
  std::vector<advice::RungCheck> out;
  FW_TRY(const std::int64_t from, judged_from(job));
  for (const Loaded& l : g.recordings) {
    if (l.row.id.value <= from || !l.how.driven_with) continue;
    FW_TRY(const auto proposal, job.proposal_of(*l.how.driven_with));
    if (proposal) FW_CHECK(check_drive(g, l, *proposal, out));
  }
  return out;
}

Status cause_is_found(Job& job, const Who& who) {
  FW_TRY(const auto rows, job.recordings());
  if (rows.empty()) return Done{};
  return job.set_setting(kFoundSetting, std::to_string(rows.back().id.value),
                         {who.name, who.when, "the cause of a refuted step of full throttle is "
                                              "found; the climb may go on"});
}

std::string says(const advice::RungCheck& c, const advice::Reader& reader) {
  const char* came = c.came == advice::Came::as_predicted ? "as predicted"
                     : c.came == advice::Came::leaner     ? "leaner than predicted"
                                                          : "richer than predicted";
  return fmt::format("Full throttle at {:.0f} rpm read {}, {} ({} to {}).", c.speed.rpm,
                     car::format(c.read, reader.scale), came, car::format(c.rich, reader.scale),
                     car::format(c.lean, reader.scale));
}

}  // namespace fuelwright::service
