# make demo   a bench session on the simulator, no hardware needed
# make test   every test
# make build  bin/backporch
# make device-test   capture devices, on virtual drivers in a virtual machine
# make accuracy  the classifier on 2,000 simulated captures: about half an hour on two cores
# make ablation  what each term of the evidence is worth, on 400 of them
#
# Each sets up what is missing first (see .ci/setup) and says what it does.

# Go's own archive unpacks to a folder that a fresh login may not have in its path.
export PATH := $(PATH):/usr/local/go/bin

.PHONY: build demo test check accuracy device-test clean

build:
	@.ci/setup build
	@mkdir -p bin
	go build -o bin/backporch ./cmd/backporch

demo: build
	bin/backporch demo

test:
	@.ci/setup test
	go test -timeout 30m ./...

SEED ?= 1

accuracy:
	@.ci/setup build
	go run ./cmd/accuracy -n 2000 -seed $(SEED) -display all -kind all -quality 0,60,75,90 -references 0.25 -out accuracy

ablation:
	@.ci/setup build
	go run ./cmd/accuracy -n 400 -seed $(SEED) -display all -kind all -references 0.5 -ablate all

check:
	.ci/run

# CAPTURE_VM names the program that runs a command in a virtual machine with capture drivers.
device-test:
	@.ci/setup build
	.ci/device-test

clean:
	rm -rf bin
