@echo off
rem Make requirements/*.txt anew from pyproject.toml. scripts/lock [--upgrade]
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\lock.py %*
exit /b %ERRORLEVEL%
