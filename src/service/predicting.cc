// From the sheet to a prediction and the first calibration.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/build/derived.h"
#include "service/ensembles.h"
#include "service/service.h"

namespace fuelwright::service {

namespace {

using physics::Interval;

constexpr int kFewestEngines = 16, kUsualEngines = 64, kMostEngines = 512;

std::string power_sentence(const advice::FullThrottle& full, bool boosted, UnitSystem units) {
  const bool us = units == UnitSystem::us;
  return fmt::format("Peak about {:.0f} {} at {:.0f} rpm{} (95 %: {:.0f} to {:.0f}).",
                     full.peak_power_w.middle / (us ? horsepower.factor : kW.factor),
                     us ? "hp" : "kW", std::round(full.peak_power_rpm.middle / 50) * 50,
                     boosted ? " without boost" : "",
                     full.peak_power_w.low / (us ? horsepower.factor : kW.factor),
                     full.peak_power_w.high / (us ? horsepower.factor : kW.factor));
}

std::string idle_sentence(const advice::Idle& idle) {
  if (!idle.map_pa) {
    return fmt::format(
        "Whether it idles at {:.0f} rpm the parts cannot tell: in {:.0f} % of such engines too "
        "much "
        "burnt gas stays behind.",
        idle.speed.rpm, 100 * (1 - idle.runs));
  }
  const std::string not_all =
      idle.runs < 0.95
          ? fmt::format("; {:.0f} % of such engines do not hold it", 100 * (1 - idle.runs))
          : "";
  return fmt::format("Idles near {:.0f} kPa at {:.0f} rpm (95 %: {:.0f} to {:.0f}{}).",
                     idle.map_pa->middle / 1e3, idle.speed.rpm, idle.map_pa->low / 1e3,
                     idle.map_pa->high / 1e3, not_all);
}

std::string sentence_of(const advice::Prediction& p, UnitSystem units) {
  constexpr double kBoost = 1.1;  // of ambient: an axis that goes beyond means a blower
  const double most = *std::max_element(p.air.map_pa.begin(), p.air.map_pa.end());
  const bool boosted = most > kBoost * p.air.ambient.from_zero.si;
  return fmt::format("{} {} Full-throttle fuel is known to \xC2\xB1{:.0f} %.",
                     power_sentence(p.full, boosted, units), idle_sentence(p.idle),
                     100 * p.full.air_half_width);
}

car::Evidence evidence_of(const advice::AirPrediction& air) {
  car::Evidence e{car::TableWhat::ve, air.grid, air.ve, air.sd_log, {}, {}};
  e.seconds.assign(air.ve.size(), 0);
  e.mark.assign(air.ve.size(), car::NodeMark::prior_only);
  return e;
}

std::string not_known_of(const advice::Prediction& p) {
  int lost = 0, wide = 0;
  const int all = static_cast<int>(p.air.ve.size());
  for (std::size_t i = 0; i < p.air.ve.size(); ++i) {
    if (p.air.reachable[i] < 0.8) {
      ++lost;
    } else if (physics::k95 * p.air.sd_log[i] > 0.10) {
      ++wide;
    }
  }
  std::string out = fmt::format("Of {} nodes {} are known to 10 % or better and {} worse than that",
                                all, all - lost - wide, wide);
  if (lost > 0) {
    out += fmt::format(
        "; {} cannot be computed, because so much burnt gas stays behind there that it hardly "
        "burns: "
        "they start on the rich side and are to be learned",
        lost);
  }
  return out + ".";
}

// Why a computed calibration does not simply take over; empty if it may.
Result<std::string> in_the_way(const Job& job, Keep keep) {
  if (keep == Keep::always) return std::string();
  if (keep == Keep::never) return std::string("it was asked for as a look only");
  FW_TRY(const car::Revision now, job.revision_in_force());
  FW_TRY(const auto recordings, job.recordings());
  if (now.number != 0) return fmt::format("revision {} is in force already", now.number);
  if (now.calibration.find(car::TableWhat::ve)) return std::string("there is a VE table as found");
  if (!recordings.empty()) return std::string("there are recordings already: estimate from them");
  return std::string();
}

Status keep_calibration(Job& job, const PredictRequest& request, PredictReply* reply) {
  FW_TRY(const std::string reason, in_the_way(job, request.keep));
  if (!reason.empty()) {
    reply->not_kept = reason;
    return Done{};
  }
  FW_TRY(const std::optional<int> seen, job.number_in_force());
  const std::string why =
      request.why.empty()
          ? fmt::format("computed from the parts, {} engines that could be this one",
                        reply->members)
          : request.why;
  // Tables of other kinds (a correction) do not belong beside a computed VE.
  FW_TRY(const int number, job.add_edit(reply->first.calibration, seen.value_or(0),
                                        {request.who, request.when, why}));
  reply->revision = number;
  return Done{};
}

}  // namespace

Result<PredictReply> predict(const PredictRequest& request) {
  if (request.members && (*request.members < kFewestEngines || *request.members > kMostEngines)) {
    return Error{ErrorCode::out_of_range, "members",
                 fmt::format("{} engines were asked for; {} to {} can be drawn", *request.members,
                             kFewestEngines, kMostEngines)};
  }
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_TRY(const std::optional<int> last, last_members(job));
  const int members = request.members.value_or(last.value_or(kUsualEngines));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  if (sheet.wishes.load_axis.value == car::LoadAxis::throttle) {
    return Error{ErrorCode::bad_input, request.job + ": sheet: wishes.load_axis",
                 "came throttle; the air at a throttle opening is not computed yet, expected map "
                 "or vacuum"};
  }
  PredictReply reply;
  FW_TRY(const UnitSystem units, job.units());
  reply.units = units;
  physics::DrawSettings settings;
  settings.members = members;
  settings.whole = true;
  settings.maps.threads = request.threads;
  settings.maps.stop = request.stop;
  constexpr double kEngines = 0.75;  // of the time; the rest is for suspects
  const auto part = [&](double begin, double share) {
    return [begin, share, p = request.progress](double done) {
      if (p) p(begin + share * done);
    };
  };
  settings.maps.progress = part(0, kEngines);
  const By by{request.who, request.when, fmt::format("{} engines that could be this one", members)};
  FW_TRY(OfJob of_job, ensemble_of(job, toml, sheet, settings, by));
  reply.drawn_now = of_job.drawn_now;
  physics::MapSettings alike = settings.maps;
  alike.progress = part(kEngines, 1 - kEngines);
  FW_CHECK(keep_suspects(job, toml, sheet, of_job.drawn, alike, by));
  const physics::Ensemble ensemble(std::move(of_job.drawn));
  reply.members = static_cast<int>(ensemble.members());
  FW_TRY(advice::Prediction p, advice::predict_engine(sheet, ensemble));
  FW_TRY(advice::FirstCalibration first, advice::first_calibration(sheet, p.air));
  reply.sentence = sentence_of(p, units);
  reply.not_known = not_known_of(p);
  reply.scale = sheet.wishes.scale.value;
  reply.evidence.emplace(evidence_of(p.air));
  reply.measure_next = physics::what_to_measure(ensemble, physics::usual_driving(ensemble, sheet));
  reply.full = std::move(p.full);
  reply.idle = std::move(p.idle);
  reply.mixtures = std::move(p.mixtures);
  reply.first = std::move(first);
  FW_CHECK(keep_calibration(job, request, &reply));
  return reply;
}

}  // namespace fuelwright::service
