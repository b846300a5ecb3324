#include "car/fault/fault.h"

#include <gtest/gtest.h>

namespace fuelwright::car::fault_test {
namespace {

TEST(Fault, EveryKindIsWrittenAndReadBackTheSame) {
  for (const FaultWords& w : all_faults()) {
    const Fault fault{.kind = w.kind, .from = 12.5 * second, .severity = 0.3};
    const auto back = read_fault(write_fault(fault));
    ASSERT_TRUE(back.ok()) << w.name;
    EXPECT_EQ(*back, fault) << w.name;
  }
}

TEST(Fault, WithoutATimeItIsThereFromTheStartAndWithoutASeverityItIsAtItsWorst) {
  const auto fault = read_fault("weak_pump");
  ASSERT_TRUE(fault.ok());
  EXPECT_EQ(*fault, (Fault{.kind = FaultKind::weak_pump, .from = {}, .severity = 1}));
  EXPECT_EQ(read_fault("weak_pump:0.5")->severity, 0.5);
  EXPECT_EQ(read_fault("weak_pump@7")->from, 7.0 * second);
}

TEST(Fault, WhatCannotBeReadIsRefusedInOneLineThatSaysWhatWasExpected) {
  EXPECT_NE(read_fault("gremlins@3").error().message.find("vacuum_leak"), std::string::npos);
  EXPECT_NE(read_fault("misfire@soon").error().message.find("KIND@SECONDS:SEVERITY"),
            std::string::npos);
  EXPECT_EQ(read_fault("misfire@3:1.5").error().code, ErrorCode::out_of_range);
  EXPECT_EQ(read_fault("misfire@-3").error().code, ErrorCode::out_of_range);
  EXPECT_EQ(read_fault("misfire@3:").error().code, ErrorCode::bad_input);
  EXPECT_EQ(read_fault("misfire@3:nan").error().code, ErrorCode::out_of_range);
  EXPECT_FALSE(read_fault("").ok());
}

}  // namespace
}  // namespace fuelwright::car::fault_test
