// A plan as a helper reads it out.
#include <fmt/format.h>

#include "service/report/text.h"

namespace fuelwright::service {
namespace {

std::string clock(Duration t) {
  const int whole = static_cast<int>(t.si + 0.5);
  return fmt::format("{:2}:{:02}", whole / 60, whole % 60);
}

std::string listed(const char* heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return "";
  std::string out = std::string("\n") + heading + "\n";
  for (const std::string& line : lines) out += "  - " + line + "\n";
  return out;
}

}  // namespace

std::string text(const PlanReply& r) {
  std::string out = r.sentence + "\n";
  if (!r.steps.empty()) out += listed("Before you drive:", r.cautions);
  if (!r.steps.empty()) out += "\nThe helper reads out:\n";
  for (std::size_t i = 0; i < r.steps.size(); ++i) {
    const Duration begins = r.plan.course[i].after + r.plan.steps[i].change_over;
    out += fmt::format("  {:2}. {}  {}\n", i + 1, clock(begins), r.steps[i]);
  }
  out += listed("Not in this plan:", r.left_out);
  out += listed("Taken for granted:", r.assumed);
  out += "\nUse of the car: " + r.plan.use + ".\n";
  if (!r.steps.empty()) {
    out += "Record the drive, add it, estimate, and plan again: what came says what is next.\n";
  }
  return out;
}

}  // namespace fuelwright::service
