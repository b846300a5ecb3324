#include "demo_story.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "service/api/json.h"

namespace fuelwright::apps {
namespace {

std::string both(const Off& off) {
  return fmt::format("{:.1f} % by the truth and {:.1f} % by the recorder", 100 * off.by_truth,
                     100 * off.by_recorder);
}

nlohmann::ordered_json as_json(const Off& off) {
  return {{"by_truth", off.by_truth},
          {"by_injectors", off.by_injectors},
          {"by_recorder", off.by_recorder},
          {"minutes", off.minutes}};
}

std::string percent(double share) { return fmt::format("{:.1f} %", 100 * share); }

std::string said_and_came(const SaidAndCame& p, const Road& use) {
  return fmt::format(
      "What the plan said, and what came, over the owner's roads ({}):\n"
      "                                        rms error   share within {:.0f} %\n"
      "  known before it, as the truth judges  {:>9}   {:>14}\n"
      "  said to be known after it             {:>9}   {:>14}\n"
      "  came, as the truth judges             {:>9}   {:>14}\n",
      use.name, 100 * p.good, percent(p.before.rms), percent(p.before.within), percent(p.said_sd),
      percent(p.said_within), percent(p.came.rms), percent(p.came.within));
}

}  // namespace

std::string in_short(const service::CheckReply& check) {
  std::string out = fmt::format("{} Findings: {} fine, {} in doubt, {} that say stop.\n",
                                check.sentence, check.fine, check.doubts, check.stops);
  for (const service::CheckedRecording& r : check.recordings) {
    for (const advice::Finding& f : r.findings) {
      if (f.grade == advice::Grade::fine) continue;
      out += fmt::format("  {:5}  {}\n", advice::name_of(f.grade), f.seen);
    }
    for (const advice::Firing& f : r.guard.firings) {
      out += "  guard  " + advice::in_words(f, check.units) + "\n";
    }
  }
  return out;
}

std::string followed(const SaidAndCame& p) {
  const std::string how =
      p.cut_short.empty() ? "all of them to their end"
                          : fmt::format("{} of them not to their end ({})", p.cut_short.size(),
                                        fmt::join(p.cut_short, ", "));
  return fmt::format("The car drove the {} steps, {}.\n", p.steps, how);
}

std::string before_and_after(const Story& s, const Road& use, const Road& fresh) {
  const int r = s.first_revision, last = r + 2;
  std::string out = fmt::format("The VE table of revision {} is in {}, ready to paste.\n\n", last,
                                s.table);
  out += said_and_came(s.plan, use);
  out += "\nHow far the mixture was off, before and after:\n";
  out += fmt::format("  The owner's roads with revision {}, {}: {}.\n", r, s.begins_with,
                     both(s.use_before.off));
  out += fmt::format("  The same roads with revision {}: {}.\n", last, both(s.use_after.off));
  out += fmt::format("  A road not driven yet ({}): {} with revision {}, {} with revision {}.\n",
                     fresh.name, both(s.new_road_before), r, both(s.new_road_after), last);
  out += fmt::format(
      "On that road {:.1f} % before and {:.1f} % after are the table's and the injectors' part; the "
      "rest is fuel on\nthe walls of the manifold, which no table of VE can cure.\n",
      100 * s.new_road_before.by_injectors, 100 * s.new_road_after.by_injectors);
  out +=
      "All of this is rms over warm driven time without fuel cuts, the unit's closed-loop "
      "correction taken out.\nThe truth, the mean of all cylinders, is known because the car is "
      "invented. The recorder sees one bank of it,\nlate, through pipe, sensor and noise.\n\n";
  return out + s.last.sentence + " " + s.last.not_known + "\nNext: " + s.next.sentence + "\n";
}

std::string story_json(const Story& s) {
  auto answer = nlohmann::ordered_json::parse(service::json(s.last));
  answer["mixture_off_rms"] = {{"drive_1", as_json(s.ordinary.off)},
                               {"plan", as_json(s.planned.off)},
                               {"use_with_first_table", as_json(s.use_before.off)},
                               {"use_with_last_table", as_json(s.use_after.off)},
                               {"new_road_with_first_table", as_json(s.new_road_before)},
                               {"new_road_with_last_table", as_json(s.new_road_after)}};
  const SaidAndCame& p = s.plan;
  answer["plan"] = {{"minutes", p.minutes},
                    {"steps", p.steps},
                    {"cut_short", p.cut_short},
                    {"good", p.good},
                    {"before", {{"rms", p.before.rms}, {"within", p.before.within}}},
                    {"said", {{"rms", p.said_sd}, {"within", p.said_within}}},
                    {"came", {{"rms", p.came.rms}, {"within", p.came.within}}},
                    {"next", s.next.sentence}};
  return answer.dump(2);
}

}  // namespace fuelwright::apps
